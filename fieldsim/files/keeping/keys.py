"""Keys of a mapping that come and go, within braces and in a block."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from fieldsim.files import nodes
from fieldsim.files.keeping.places import CannotKeepError, Edit, Places
from fieldsim.files.keeping.plain import Plain, flow, listed


class KeyEdits(Places):
    """Edits that add keys and take keys away."""

    def _after(
        self, node: nodes.Mapping, at: Mapping[str, int], stay: Sequence[str], earlier: Sequence[str]
    ) -> int | None:
        """The number of the last key, of those that stay, after which a new one belongs; None: before them all."""
        return max((at[word] for word in stay if word in earlier), default=None)

    def _flow_keys(
        self,
        node: nodes.Mapping,
        at: Mapping[str, int],
        stay: Sequence[str],
        gone: Sequence[str],
        added: Mapping[str, Plain],
        order: Sequence[str],
        keep: bool,
    ) -> list[Edit]:
        edits = []
        start = node.start_mark.index
        if not stay:
            return [Edit(start, self.end(node), flow(dict(added)))]
        for word, plain in added.items():
            number = self._after(node, at, stay, order[: order.index(word)])
            if number is None:
                place = node.value[0][0].start_mark.index
                edits.append(Edit(place, place, f"{word}: {flow(plain)}, "))
            else:
                place = self.end(node.value[number][1])
                edits.append(Edit(place, place, f", {word}: {flow(plain)}"))
        last = max(at[word] for word in stay)
        for word in gone:
            number = at[word]
            key, value = node.value[number]
            first, end = key.start_mark.index, self.end(value)
            if number > last:
                # With the comma before it; if comments stand between, that one stays and the one behind it goes.
                previous = self.end(node.value[number - 1][1])
                if "#" not in self.masked[previous:first]:
                    edits.append(Edit(previous, end, ""))
                    continue
                edits.append(Edit(first, end, ""))
                more = number + 1 < len(node.value)
                following = node.value[number + 1][0].start_mark.index if more else self.end(node)
                if not more or "#" in self.masked[end:following]:
                    edits += [Edit(comma, comma + 1, "") for comma in self._commas(end, following)]
            else:
                following = node.value[number + 1][0].start_mark.index
                if "#" in self.masked[end:following]:
                    edits += [Edit(comma, comma + 1, "") for comma in self._commas(end, following)]
                    edits.append(Edit(first, end, ""))
                else:
                    edits.append(Edit(first, following, ""))
        return edits

    def _commas(self, start: int, end: int) -> list[int]:
        """The commas between two places that are in no comment."""
        places = (start + found.start() for found in re.finditer(",", self.masked[start:end]))
        return [place for place in places if not any(a <= place < b for a, b in self.comments)]

    def _block_keys(
        self,
        node: nodes.Mapping,
        at: Mapping[str, int],
        stay: Sequence[str],
        gone: Sequence[str],
        added: Mapping[str, Plain],
        order: Sequence[str],
        keep: bool,
    ) -> list[Edit]:
        edits = []
        indent = " " * self.column(node)
        for word, plain in added.items():
            number = self._after(node, at, stay, order[: order.index(word)])
            if isinstance(plain, list) and plain and isinstance(plain[0], dict):
                text = f"{word}:\n{listed(plain, f'{indent}  ')}".removesuffix("\n")
            else:
                text = f"{word}: {flow(plain)}"
            if number is None:
                place = node.value[0][0].start_mark.index
                edits.append(Edit(place, place, f"{text}\n{indent}"))
            else:
                place = self.tail(self.end(node.value[number][1]), len(indent))
                edits.append(Edit(place, place, f"\n{indent}{text}"))
        for word in gone:
            key, value = node.value[at[word]]
            first = key.start_mark.index
            start, end = self.line_start(first), self.line_end(self.end(value))
            comments = self.comments_in(first, end) if keep else []
            if not self.text[start:first].strip():
                edits.append(Edit(start, min(end + 1, len(self.text)), "".join(f"{indent}{c}\n" for c in comments)))
                continue
            # It stands on the dash's line: the next key comes up to it.
            if at[word] + 1 >= len(node.value) or node.value[at[word] + 1][0].value in gone:
                raise CannotKeepError("no key is left on the line")
            following = node.value[at[word] + 1][0].start_mark.index
            comments = self.comments_in(first, following)
            edits.append(Edit(first, following, "".join(f"{c}\n{indent}" for c in comments)))
        return edits
