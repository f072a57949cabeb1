"""One trial that failed, in words: by how much, and whose error did most."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_later
from fieldsim.lettering import shorten
from fieldsim.report.phrases import NAME_CELLS, fixed, spoken

if TYPE_CHECKING:
    from fieldsim.studies.single import Blame, Miss, Single

__all__ = ["miss_words", "off_words", "single_words", "whole"]

# Less than this is on the target, mm.
ON_IT = 0.5


def single_words(found: Single, segments: Sequence[str]) -> tuple[str, ...]:
    """Two lines at most; ``segments`` are the run's, each in words."""
    first = _what(found)
    return (first,) if found.blame is None else (first, _blame(found.blame, segments))


def _what(found: Single) -> str:
    failure = found.failure
    name = shorten(failure.what, NAME_CELLS)
    if found.miss is not None:
        return miss_words(found.miss, name)
    if failure.why == "touches":
        if found.gap is None:
            return tr("touches {name} on segment {number}", name=name, number=failure.segment)
        return tr(
            "touches {name} on segment {number}: the plan leaves {gap} mm",
            name=name, number=failure.segment, gap=whole(max(found.gap, 0.0)),
        )  # fmt: skip
    if failure.why == "ends outside":
        return tr("ends outside {name}", name=name)
    return tr("segment {number}: {why} ({name})", number=failure.segment, why=tr(failure.why), name=name)


def miss_words(miss: Miss, name: str) -> str:
    """'misses flour lid by 31 mm: 12 short, 28 to the left'."""
    if miss.only_turned and miss.turned is not None and miss.heading_within is not None:
        turned = fixed(abs(miss.turned), 0 if abs(miss.turned) >= 10 else 1)
        words = (
            tr_later("misses {name}: in place, but turned {turned} degrees to the left ({within} are allowed)")
            if miss.turned > 0
            else tr_later("misses {name}: in place, but turned {turned} degrees to the right ({within} are allowed)")
        )
        return tr(words, name=name, turned=turned, within=spoken(miss.heading_within))
    return tr(
        "misses {name} by {away} mm: {off} ({within} are allowed)",
        name=name, away=whole(miss.away), off=off_words(miss.ahead, miss.left), within=spoken(miss.within),
    )  # fmt: skip


def off_words(ahead: float, left: float) -> str:
    """'12 short, 28 to the left', mm as the robot looks."""
    found = []
    for off, more, less in (
        (ahead, tr_later("{off} too far"), tr_later("{off} short")),
        (left, tr_later("{off} to the left"), tr_later("{off} to the right")),
    ):
        if abs(off) >= ON_IT:
            found.append(tr(more if off > 0 else less, off=whole(abs(off))))
    return ", ".join(found) if found else tr("on the target")


def _blame(blame: Blame, segments: Sequence[str]) -> str:
    if blame.segment == 0:
        if blame.through:
            return tr("with no error in {source} it would get through", source=blame.source)
        return tr("most of it comes from {source}", source=blame.source)
    words = segments[blame.segment - 1]
    if blame.through:
        return tr("had segment {number} ({words}) no error, it would get through", number=blame.segment, words=words)
    return tr("most of it comes from segment {number} ({words})", number=blame.segment, words=words)


def whole(value: float) -> str:
    """A length in mm, told as finely as it is worth."""
    return fixed(value, 0 if value >= 10 else 1)
