"""Values set in the text of a file that people wrote: comments, order and everything else stay.

The only module that knows ruamel.yaml, which keeps what PyYAML throws away.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.error import YAMLError
from ruamel.yaml.nodes import ScalarNode
from ruamel.yaml.representer import RoundTripRepresenter

from fieldsim.files.keeping import number_text

Place = tuple[str | int, ...]
"""Leads to a value by keys and by numbers of a list's items, from 0."""


class _Numbers(RoundTripRepresenter):
    """Numbers as people write them: 220 and 0.00001, which YAML 1.1 would not know as a number from 1e-05."""

    def plain_number(self, value: float) -> ScalarNode:
        text = number_text(value)
        kind = "float" if "." in text else "int"
        node: ScalarNode = self.represent_scalar(f"tag:yaml.org,2002:{kind}", text)
        return node


_Numbers.add_representer(float, _Numbers.plain_number)


def changed(text: str, values: Mapping[Place, Any]) -> str:
    """A file's text with values set at paths of keys and numbers of items (from 0).

    A value is a number, a text, a list or a mapping of them; None takes the key or the item away. Keys that are not
    there are added at the end of their mapping. The file must be one that fieldsim has read without a mistake. Raises
    ValueError if a path leads through something that has no such place.
    """
    yaml = YAML()
    yaml.Representer = _Numbers
    yaml.preserve_quotes = True
    yaml.width = 100_000
    yaml.indent(mapping=2, sequence=4, offset=2)
    try:
        root = yaml.load(text)
    except YAMLError as problem:
        raise ValueError(f"the file cannot be read: {problem}") from None
    for path, value in values.items():
        at = root
        for key in path[:-1]:
            _check_place(at, key)
            if isinstance(at, CommentedMap) and at.get(key) is None:
                at[key] = CommentedMap()
            at = at[key]
        last = path[-1]
        _check_place(at, last)
        now = at.get(last) if isinstance(at, CommentedMap) else at[last]
        if value is None:
            if now is not None:
                del at[last]
        # A number that is the same is left as it was written.
        elif not (isinstance(now, int | float) and now == value):
            nested = isinstance(value, Mapping) and any(isinstance(each, Mapping) for each in value.values())
            at[last] = _made(value, block=nested)
    out = io.StringIO()
    yaml.dump(root, out)
    return out.getvalue()


def _check_place(at: object, key: str | int) -> None:
    if isinstance(key, int):
        if not isinstance(at, CommentedSeq):
            raise ValueError(f"number {key} is in something that is no list")
        if not 0 <= key < len(at):
            raise ValueError(f"number {key} is not in a list of {len(at)}")
    elif not isinstance(at, CommentedMap):
        raise ValueError(f"'{key}' is in something that has no keys")


def _made(value: Any, block: bool = False) -> Any:
    """A list or mapping as ruamel.yaml writes it: in one line, but for a list of mappings and (``block``) its items."""
    if isinstance(value, Mapping):
        made = CommentedMap((key, _made(each)) for key, each in value.items())
        if not block:
            made.fa.set_flow_style()
        return made
    if isinstance(value, list | tuple):
        maps = bool(value) and all(isinstance(each, Mapping) for each in value)
        items = CommentedSeq(_made(each, block=maps) for each in value)
        if not maps:
            items.fa.set_flow_style()
        return items
    return value
