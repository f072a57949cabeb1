"""Which item of a new list is which of the old one, so that each keeps its lines and comments.

difflib finds equal items in order; names, the objects themselves and likeness find those that were moved or changed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from difflib import SequenceMatcher
from typing import Any

from fieldsim.model.bounds import Checked, attributes

# Items of two lists are compared one by one in gaps of up to this many pairs; larger gaps are taken in order.
_MOST_PAIRS = 250_000


def aligned(old: Sequence[Any], new: Sequence[Any], before: Sequence[Any] = ()) -> list[int | None]:
    """For each item of the new list the number of the old one that it was, or None for one that is new.

    ``before`` may hold the very objects that the new list was made from, equal to the old ones: then equal items are
    told apart. Named items are matched by name, then as equal but for the name, then as much alike; others as equal in
    order, then as equal anywhere, then as of the same kind between the same neighbours.
    """
    found: list[int | None] = [None] * len(new)
    free = dict.fromkeys(range(len(old)))

    def pair(i: int, j: int) -> None:
        found[j] = i
        del free[i]

    def match(old_key: Callable[[Any], Any], new_key: Callable[[Any], Any]) -> None:
        """Pair equal keys, in order of the new list; each old item is taken once."""
        by: dict[Any, list[int]] = {}
        for i in reversed(free):
            by.setdefault(old_key(i), []).append(i)
        for j, item in enumerate(new):
            if found[j] is None and (there := by.get(new_key(item))):
                pair(there.pop(), j)

    if len(before) == len(old) and all(a == b for a, b in zip(before, old, strict=True)):
        match(lambda i: id(before[i]), id)
    if all(hasattr(item, "name") for item in (*old, *new)):
        match(lambda i: old[i].name, lambda item: item.name)
        match(lambda i: replace(old[i], name="-"), lambda item: replace(item, name="-"))
        _pair_alike(old, new, found, free, pair, 0.5)
        return found
    rest_old, rest_new = list(free), [j for j, i in enumerate(found) if i is None]
    same = SequenceMatcher(None, [old[i] for i in rest_old], [new[j] for j in rest_new], autojunk=False)
    for block in same.get_matching_blocks():
        for k in range(block.size):
            pair(rest_old[block.a + k], rest_new[block.b + k])
    match(lambda i: old[i], lambda item: item)
    for candidates, places in _gaps(found, free):
        for i, j in _in_order(old, new, candidates, places):
            if i in free:
                pair(i, j)
    _pair_alike(old, new, found, free, pair, 0.0)
    return found


def _gaps(found: list[int | None], free: Mapping[int, None]) -> Iterator[tuple[list[int], list[int]]]:
    """Old items between the old neighbours of each stretch of new items that are not matched yet, and that stretch."""
    j, count = 0, len(found)
    stretches = []
    while j < count:
        k = j
        while k < count and found[k] is None:
            k += 1
        if k > j:
            stretches.append((j, k))
        j = k + 1
    most = max([*free, *(i for i in found if i is not None)], default=-1)
    for j, k in stretches:
        before, after = found[j - 1] if j else -1, found[k] if k < count else most + 1
        assert before is not None
        assert after is not None
        near = []
        i = before + 1
        while i in free:
            near.append(i)
            i += 1
        i = after - 1
        while i in free and i not in near:
            near.append(i)
            i -= 1
        yield sorted(near), list(range(j, k))


def _in_order(old: Sequence[Any], new: Sequence[Any], there: list[int], here: list[int]) -> list[tuple[int, int]]:
    """Pairs of the same kind, in order on both sides, as many and as much alike as can be (Needleman and Wunsch 1970,
    from memory)."""
    if len(there) * len(here) > _MOST_PAIRS:
        return [(i, j) for i, j in zip(there, here, strict=False) if type(old[i]) is type(new[j])]
    rows, columns = len(there), len(here)
    best = [[0.0] * (columns + 1) for _ in range(rows + 1)]
    worth = [[_worth(old[i], new[j]) for j in here] for i in there]
    for a in range(rows - 1, -1, -1):
        for b in range(columns - 1, -1, -1):
            best[a][b] = max(best[a + 1][b + 1] + worth[a][b], best[a + 1][b], best[a][b + 1])
    pairs = []
    a = b = 0
    while a < rows and b < columns:
        if worth[a][b] > 0.0 and best[a][b] == best[a + 1][b + 1] + worth[a][b]:
            pairs.append((there[a], here[b]))
            a, b = a + 1, b + 1
        elif best[a][b] == best[a + 1][b]:
            a += 1
        else:
            b += 1
    return pairs


def _worth(old: Any, new: Any) -> float:
    """0 for another kind, from 1 to 2 for the same."""
    if type(old) is not type(new):
        return 0.0
    if not isinstance(old, Checked):
        return 1.0
    names = attributes(type(old))
    return 1.0 + sum(bool(getattr(old, name) == getattr(new, name)) for name in names) / len(names)


def _pair_alike(
    old: Sequence[Any],
    new: Sequence[Any],
    found: list[int | None],
    free: dict[int, None],
    pair: Callable[[int, int], None],
    above: float,
) -> None:
    """Pair what is left and shares more than ``above`` of what is said of it, most alike first."""
    left = [j for j, i in enumerate(found) if i is None]
    if len(left) * len(free) > _MOST_PAIRS:
        return
    ranked = sorted((-_likeness(old[i], new[j]), abs(i - j), i, j) for i in free for j in left)
    for rank, _, i, j in ranked:
        if -rank > above and i in free and found[j] is None:
            pair(i, j)


def _likeness(old: Any, new: Any) -> float:
    """Share of what is said of the old item, but for its name, that is said of the new one too; 0 for another kind."""
    if type(old) is not type(new) or not isinstance(old, Checked):
        return 0.0
    old_said, new_said = dict(_said(old)), dict(_said(new))
    return sum(bool(new_said.get(place) == value) for place, value in old_said.items()) / max(1, len(old_said))


def _said(value: Any, place: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    if isinstance(value, Checked):
        for name, attribute in attributes(type(value)).items():
            here = getattr(value, name)
            if name != "name" and here != attribute.default:
                yield from _said(here, (*place, type(value), name))
    elif isinstance(value, tuple):
        for index, item in enumerate(value):
            yield from _said(item, (*place, index))
    else:
        yield place, value
