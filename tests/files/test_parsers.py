"""Files are read by PyYAML's parser in C where it is there: nodes, marks and so messages are those of the one in
Python."""

from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from fieldsim.files import nodes

ROOT = Path(__file__).parents[2]
FILES = sorted([*ROOT.glob("fields/**/*.yaml"), *ROOT.glob("runs/**/*.yaml"), *ROOT.glob("fieldsim/starter/*.yaml")])
TEXTS = [path.read_text(encoding="utf-8") for path in FILES]
PIECES = [*":-[]{},#'\"?\t \n&*!|>%@0a", ": ", "- ", "\n- ", "---\n", "...\n", "<<: ", "\r\n", "é", "\u2028", "{a: }"]

pytestmark = pytest.mark.skipif(not yaml.__with_libyaml__, reason="PyYAML was installed without its parser in C")


def tree(node: yaml.Node) -> Any:
    marks = [(mark.line, mark.column, mark.index) for mark in (node.start_mark, node.end_mark)]
    told = (type(node).__name__, node.tag, marks)
    if isinstance(node, yaml.ScalarNode):
        return (*told, node.style, node.value)
    if isinstance(node, yaml.MappingNode):
        return (*told, bool(node.flow_style), [(tree(key), tree(value)) for key, value in node.value])
    return (*told, bool(node.flow_style), [tree(value) for value in node.value])


def test_the_files_of_the_tool_are_read_fast_and_alike() -> None:
    assert FILES
    fast = 0
    for text in TEXTS:
        found = nodes._composed_fast(text)
        if found is not None:
            fast += 1
            assert [tree(node) for node in found] == [tree(node) for node in nodes._composed_slowly(text)]
    assert fast >= len(FILES) / 2


@given(data=st.data())
def test_a_file_that_somebody_has_changed_is_read_alike_or_not_at_all(data: st.DataObject) -> None:
    text = data.draw(st.sampled_from(TEXTS))
    lines = text.splitlines(keepends=True)
    first = data.draw(st.integers(0, len(lines) - 1))
    text = "".join(lines[first : first + data.draw(st.integers(1, 12))])
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(text)))
        skipped = data.draw(st.integers(0, 3))
        text = text[:at] + data.draw(st.sampled_from([*PIECES, ""])) + text[at + skipped :]
    found = nodes._composed_fast(text)
    if found is not None:
        assert [tree(node) for node in found] == [tree(node) for node in nodes._composed_slowly(text)], repr(text)
