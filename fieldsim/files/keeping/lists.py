"""Items of a list that come, go and move, within brackets and as a block of lines each.

To an item's block belong the comments at the end of its lines, lines of comment that follow it and stand farther to the
right than its dash, and lines of comment and blank lines above it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from typing import Any, NamedTuple

from fieldsim.files import nodes
from fieldsim.files.keeping.places import CannotKeepError, Edit, Places
from fieldsim.files.keeping.plain import flow, item_of, listed
from fieldsim.model.bounds import Many


class Block(NamedTuple):
    """An item's lines: comments above it from ``lead``, its dash's line from ``start``, all of it up to ``end``."""

    lead: int
    start: int
    end: int


class ListEdits(Places):
    """Edits that put the items of a list into a new order."""

    def _block_list(
        self,
        node: nodes.Sequence,
        kind: Many,
        new: Sequence[Any],
        sources: Sequence[int | None],
        edits: Sequence[list[Edit]],
    ) -> list[Edit]:
        column = self.column(node)
        blocks = self._blocks(node, column)
        maps = [item for item in node.value if isinstance(item, nodes.Mapping)]
        in_braces = sum(bool(item.flow_style) for item in maps) * 2 > len(maps)
        # Comments that stand apart above an item that goes are more likely a heading of several.
        heading = dict.fromkeys(range(len(blocks) + 1), "")
        still = {i for i in sources if i is not None}
        for number, block in enumerate(blocks):
            above = self.text[block.lead : block.start]
            apart = number == 0 or any(not line.strip() for line in above.splitlines())
            if number not in still and "#" in above and apart:
                heading[next((k for k in range(number + 1, len(blocks)) if k in still), len(blocks))] += above
        parts = []
        for item, i, changes in zip(new, sources, edits, strict=True):
            if i is None:
                plain = item_of(kind.item, item)
                brace = in_braces or not isinstance(plain, dict)
                parts.append(f"{' ' * column}- {flow(plain)}\n" if brace else listed([plain], " " * column))
            else:
                block = blocks[i]
                text = self.applied(changes, block.lead, block.end)
                parts.append(heading[i] + (text if text.endswith("\n") else f"{text}\n"))
        return [Edit(blocks[0].lead, blocks[-1].end, "".join([*parts, heading[len(blocks)]]))]

    def _blocks(self, node: nodes.Sequence, column: int) -> list[Block]:
        blocks: list[Block] = []
        for item in node.value:
            start = self.line_start(item.start_mark.index)
            while not re.match(rf" {{{column}}}-(\s|$)", self.text[start : self.line_end(start)]):
                if start == 0:
                    raise CannotKeepError("no dash stands there")
                start = self.line_start(start - 1)
            lead = start
            # An item's own comments end with what stands farther to the right; all other lines are the next one's.
            floor = blocks[-1].end if blocks else 0
            while lead > floor:
                above = self.line_start(lead - 1)
                if self.text[above:lead].strip() and self.is_comment(above) is None:
                    break
                lead = above
            end = min(self.tail(self.end(item), column) + 1, len(self.text))
            blocks.append(Block(lead, start, end))
        if any(a.end != b.lead for a, b in pairwise(blocks)):
            raise CannotKeepError("two items share a line")
        return blocks

    def _flow_list(
        self,
        node: nodes.Sequence,
        kind: Many,
        new: Sequence[Any],
        sources: Sequence[int | None],
        edits: Sequence[list[Edit]],
    ) -> list[Edit]:
        """A list in brackets: in one line if it was, else a line for each item, with its comments."""
        spans = [(item.start_mark.index, self.end(item)) for item in node.value]
        start, end = node.start_mark.index, self.end(node)
        texts = [
            self.applied(changes, *spans[i]) if i is not None else flow(item_of(kind.item, item))
            for item, i, changes in zip(new, sources, edits, strict=True)
        ]
        between = list(zip([start + 1, *(b for _, b in spans)], [*(a for a, _ in spans), end - 1], strict=True))
        gaps = [self.text[a:b] for a, b in between]
        if not any("\n" in gap for gap in gaps):
            return [Edit(start, end, f"[{gaps[0]}{', '.join(texts)}{gaps[-1].replace(',', '')}]")]
        indent = next(
            (" " * (a - self.line_start(a)) for a, _ in spans if not self.text[self.line_start(a) : a].strip()),
            " " * (start - self.line_start(start) + 1),
        )
        above: list[list[str]] = []
        behind: list[list[str]] = []
        for a, b in between:
            first = min(self.line_end(a), b)
            behind.append(self.comments_in(a, first))
            above.append(self.comments_in(first, b))
        lines = ["[" + "".join(f"  {comment}" for comment in behind[0])]
        for text, i in zip(texts, sources, strict=True):
            if i is not None:
                lines += [indent + comment for comment in above[i]]
            lines.append(f"{indent}{text}," + "".join(f"  {c}" for c in (behind[i + 1] if i is not None else ())))
        lines += [indent + comment for comment in above[-1]]
        return [Edit(start, end, "\n".join([*lines, indent[:-2] + "]"]))]


def valid_origins(origins: Sequence[int | None], old: int) -> list[int | None]:
    """Numbers of old items as somebody gave them, each that there is at most once."""
    taken: set[int] = set()
    valid: list[int | None] = []
    for i in origins:
        fits = i is not None and 0 <= i < old and i not in taken
        valid.append(i if fits else None)
        if i is not None:
            taken.add(i)
    return valid
