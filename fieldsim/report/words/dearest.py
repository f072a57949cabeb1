"""What costs a run most, in few words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldsim.language import tr
from fieldsim.stats.intervals import Share

if TYPE_CHECKING:
    from fieldsim.studies.dearest import DearestAnswer

__all__ = ["dearest_words", "square_words"]


def dearest_words(answer: DearestAnswer) -> str:
    """'costs most: slip in the turn, segment 5 (62 in 1000)'."""
    if answer.segment == 0:
        return tr("costs most: {source} ({often})", source=answer.source, often=_in_1000(answer.worth))
    return tr(
        "costs most: {source}, segment {number} ({often})",
        source=answer.source, number=answer.segment, often=_in_1000(answer.worth),
    )  # fmt: skip


def square_words(answer: DearestAnswer) -> str:
    """'square rear on left wall after segment 2: 118 in 1000 more'; empty where no square helps."""
    square = answer.square
    if square is None:
        return ""
    words = square.segments[0].in_words()
    if square.after == 0:
        return tr("{words} before segment 1: {often} more", words=words, often=_in_1000(square.worth))
    return tr(
        "{words} after segment {number}: {often} more",
        words=words, number=square.after, often=_in_1000(square.worth),
    )  # fmt: skip


def _in_1000(share: Share) -> str:
    return tr("{n} in 1000", n=round(1000 * max(share.share, 0.0)))
