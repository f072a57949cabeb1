"""What `check` says of a run that was driven once, in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fieldsim.language import tr
from fieldsim.lettering import shorten
from fieldsim.report.phrases import NAME_CELLS, fixed, spoken

if TYPE_CHECKING:
    from fieldsim.studies.once import Aimed, Once


def once_words(once: Once, finish: str | None) -> Iterator[str]:
    """A sentence for what is near, one for each act, one for the end if that is wrong."""
    if once.touches is not None:
        name, segment = once.touches
        yield tr(
            "driven once with its known bias it touches {name} on segment {number}; driven perfectly it would not",
            name=shorten(name, NAME_CELLS), number=segment,
        )  # fmt: skip
    elif once.tight is None:
        yield tr("driven once it touches nothing it may not, and nothing comes near")
    else:
        yield tr(
            "driven once it touches nothing it may not; nearest is {name} on segment {number}: {gap} mm",
            name=shorten(once.tight.obstacle, NAME_CELLS), number=once.tight.segment, gap=fixed(once.tight.gap, 1),
        )  # fmt: skip
    for aimed in once.aimed:
        yield _aimed_words(aimed)
    if not once.home:
        yield tr("driven once it does not end inside {finish}", finish=shorten(finish or "", NAME_CELLS))


def _aimed_words(aimed: Aimed) -> str:
    values = {
        "target": shorten(aimed.target, NAME_CELLS),
        "number": aimed.segment,
        "miss": fixed(aimed.usual, 1),
        "within": spoken(aimed.within),
    }
    if not aimed.facing:
        return tr(
            "segment {number}: the tool point comes to {target}, but the robot faces another way than the target asks "
            "for",
            **values,
        )
    if aimed.hit:
        return tr("segment {number}: the tool point is {miss} mm from {target}, {within} mm are allowed", **values)
    return tr(
        "segment {number}: the tool point is {miss} mm from {target}, and only {within} mm are allowed: "
        "'fieldsim aim RUN TARGET' says what to type",
        **values,
    )
