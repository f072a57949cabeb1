"""What differs between two values of the model, as edits of the text that holds the first.

The keys and bounds come from `forms` and the model's annotations, as for reading.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from fieldsim.files import nodes
from fieldsim.files.forms import SHAPES
from fieldsim.files.keeping.keys import KeyEdits
from fieldsim.files.keeping.lists import ListEdits, valid_origins
from fieldsim.files.keeping.matching import aligned
from fieldsim.files.keeping.places import CannotKeepError, Edit
from fieldsim.files.keeping.plain import (
    ABSENT,
    Plain,
    flow,
    is_shape,
    item_of,
    key_lines,
    listed,
    of_records,
    ordered,
    plain_of,
    plain_record,
    shape_of,
)
from fieldsim.files.nodes import Node
from fieldsim.model import Field, Outline, Run
from fieldsim.model.bounds import (
    Checked,
    Choice,
    Either,
    Height,
    Kind,
    Many,
    Maybe,
    Name,
    Number,
    Pair,
    Record,
    attributes,
)


def kept(
    document: nodes.Document,
    text: str,
    old: Checked,
    new: Checked,
    files: Mapping[str, str] | None = None,
    before: Checked | None = None,
    origins: Sequence[int | None] | None = None,
) -> str:
    """The text of a file changed from one field or run to another. Raises CannotKeepError.

    ``document`` is the text read, ``old`` the value that it holds; line ends are plain. ``files`` holds new paths of a
    run's field and robot. ``before`` and ``origins`` tell which item was which, see `aligned`: ``before`` holds the
    objects that the new value was made from, ``origins`` a number or None for each of a run's segments.
    """
    keeper = Keeper(text, document.root)
    return keeper.applied(keeper.root(document.root, old, new, files or {}, before, origins))


class Keeper(KeyEdits, ListEdits):
    """Edits of a record and all that is in it."""

    def root(
        self,
        node: nodes.Mapping,
        old: Checked,
        new: Checked,
        files: Mapping[str, str],
        before: Checked | None,
        origins: Sequence[int | None] | None,
    ) -> list[Edit]:
        edits = []
        given = {key.value: value for key, value in node.value}
        for word, file in files.items():
            if given[word].value != file:
                edits.append(self.name(given[word], file))
        return edits + self.record(node, old, new, before=before, origins=origins)

    def value(
        self, node: Node, kind: Kind, old: Any, new: Any, default: Any = None, column: int | None = None
    ) -> list[Edit]:
        """Edits of a value that is there before and after. ``column`` is that of its key, None within brackets."""
        if old == new:
            return []
        match kind:
            case Number():
                return [self.number(node, kind, new)]
            case Choice() | Name():
                return [self.name(node, new)]
            case Pair() if isinstance(node, nodes.Sequence):
                triples = zip(node.value, old, new, strict=True)
                return [self.number(item, kind.number, b) for item, a, b in triples if a != b]
            case Height() if isinstance(node, nodes.Sequence):
                triples = zip(node.value, old, new, strict=True)
                return [self.number(item, kind.number, b) for item, a, b in triples if a != b]
            case Height() if new[0] == 0.0:
                return [self.number(node, kind.top, new[1])]
            case Record() if type(old) is type(new):
                return self.record(node, old, new, default)
            case Maybe():
                return self.value(node, kind.kind, old, new, default, column)
            case Many() if isinstance(node, nodes.Sequence):
                return self.many(node, kind, old, new, column)
            case Either() if type(old) is type(new):
                return [self.name(node, new)] if isinstance(new, str) else self.record(node, old, new, default)
        return self.whole(node, item_of(kind, new, default))

    def record(
        self,
        node: Node,
        old: Checked,
        new: Checked,
        defaults: object = None,
        before: Checked | None = None,
        origins: Sequence[int | None] | None = None,
    ) -> list[Edit]:
        if not isinstance(node, nodes.Mapping):
            raise CannotKeepError("no keys stand there")
        record = type(new)
        at = {key.value: number for number, (key, _) in enumerate(node.value)}
        column = None if node.flow_style else self.column(node)
        edits: list[Edit] = []
        gone: list[str] = []
        added: dict[str, Plain] = {}
        for word, attribute in ordered(record).items():
            a, b = getattr(old, attribute.name), getattr(new, attribute.name)
            # A run's field and robot are files of their own.
            if (record is Run and word in ("field", "robot")) or a == b:
                continue
            default = getattr(defaults, attribute.name, attribute.default)
            if is_shape(record, word):
                edits += self.shape(node, at, a, b, column)
                continue
            plain = plain_of(record, attribute, b, default)
            if word not in at:
                added[word] = plain
            elif plain is ABSENT:
                gone.append(word)
            elif record is Field and word == "walls":
                edits += self.walls(node.value[at[word]][1], a, b, plain)
            elif isinstance(attribute.kind, Many):
                value = node.value[at[word]][1]
                objects = getattr(before, attribute.name) if before is not None else ()
                numbers = origins if record is Run and attribute.name == "segments" else None
                edits += self.many(value, attribute.kind, a, b, column, objects, numbers)
            else:
                edits += self.value(node.value[at[word]][1], attribute.kind, a, b, default, column)
        if not gone and not added:
            return edits
        if node.flow_style and self.text[node.start_mark.index] != "{":
            # One key within a list's brackets needs no braces of its own: [straight: 100].
            return [Edit(node.start_mark.index, self.end(node), flow(plain_record(new, defaults=defaults)))]
        stay = [word for word in at if word not in gone]
        order = [each for word in ordered(record) for each in (SHAPES if is_shape(record, word) else (word,))]
        change = self._flow_keys if node.flow_style else self._block_keys
        return edits + change(node, at, stay, gone, added, order, record not in (Run, Field))

    def walls(self, node: Node, old: Any, new: Any, plain: Plain) -> list[Edit]:
        if isinstance(node, nodes.Mapping) and isinstance(plain, dict) and len(node.value) == 1:
            return self.value(node.value[0][1], Height(alone=True), old, new)
        return self.whole(node, plain)

    def shape(self, node: nodes.Mapping, at: Mapping[str, int], old: Any, new: Any, column: int | None) -> list[Edit]:
        word, plain = shape_of(new)
        if word in at:
            value = node.value[at[word]][1]
            if isinstance(new, Outline):
                return self.value(value, attributes(Outline)["points"].kind, old.points, new.points, column=column)
            return self.record(value, old, new)
        key, value = node.value[at[shape_of(old)[0]]]
        return [Edit(key.start_mark.index, key.end_mark.index, word), *self.whole(value, plain)]

    # --- lists

    def many(
        self,
        node: Node,
        kind: Many,
        old: Sequence[Any],
        new: Sequence[Any],
        column: int | None,
        before: Sequence[Any] = (),
        origins: Sequence[int | None] | None = None,
    ) -> list[Edit]:
        if not isinstance(node, nodes.Sequence) or len(node.value) != len(old):
            raise CannotKeepError("no list stands there")
        if not new:
            return self.whole(node, [])
        if not old:
            items = [item_of(kind.item, item) for item in new]
            start, end = node.start_mark.index, self.end(node)
            if column is None or not of_records(kind):
                return [Edit(start, end, flow(items))]
            # An empty list in brackets: a line for each item from now on, below what else stands on the key's line.
            place = self.line_end(end)
            colon = len(self._up_to_code(start))
            lines = listed(items, " " * (column + 2)).removesuffix("\n")
            return [Edit(colon, end, ""), Edit(place, place, f"\n{lines}")]
        if isinstance(kind.item, Pair) and len(old) == len(new):
            # Corners that are dragged stay in their places.
            sources: list[int | None] = list(range(len(old)))
        else:
            sources = valid_origins(origins, len(old)) if origins is not None else aligned(old, new, before)
        edits = [
            self.item(node.value[i], kind.item, old[i], new[j]) if i is not None else [] for j, i in enumerate(sources)
        ]
        if sources == list(range(len(old))):
            return [edit for each in edits for edit in each]
        rebuilt = self._flow_list if node.flow_style else self._block_list
        return rebuilt(node, kind, new, sources, edits)

    def item(self, node: Node, kind: Kind, old: Any, new: Any) -> list[Edit]:
        """Edits of one item; if they cannot be, the item anew, with its comments."""
        if type(old) is type(new):
            try:
                return self.value(node, kind, old, new)
            except CannotKeepError:
                pass
        plain = item_of(kind, new)
        start, end = node.start_mark.index, self.end(node)
        if isinstance(node, nodes.Mapping) and not node.flow_style:
            first, *rest = key_lines(plain, " " * self.column(node)).split("\n")
            inner = "".join(f"  {comment}" for comment in self.comments_in(start, end))
            return [Edit(start, end, "\n".join([first + inner, *rest]))]
        text = flow(plain)
        comments = self.comments_in(start, end)
        if comments and text.startswith(("{", "[")):
            # Within braces a comment must end with its line.
            lines = [f"{text[0]}  {'  '.join(comments)}", " " * (self.column(node) + 1) + text[1:]]
            text = "\n".join(lines)
        return [Edit(start, end, text)]
