"""The answer of ``fieldsim fit --plan`` in words and as JSON."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_many
from fieldsim.lettering import shorten
from fieldsim.model.between import GROWING
from fieldsim.report.phrases import NAME_CELLS
from fieldsim.report.statement import Part, Points, Section, Table, rows
from fieldsim.rounding import rounded_down, rounded_up

if TYPE_CHECKING:
    from fieldsim.calibration.further import Batch, FurtherAnswer, Worth

SHOWN = 5


def batch_words(batch: Batch) -> str:
    """'4 turns of 360 degrees, half of them on each of two new days'."""
    if batch.kind == "straight":
        tests = tr_many("{n} straight of {size:g} mm", "{n} straights of {size:g} mm", batch.tests, size=batch.size)
    elif batch.kind == "turn":
        tests = tr_many("{n} turn of {size:g} degrees", "{n} turns of {size:g} degrees", batch.tests, size=batch.size)
    else:
        tests = tr_many(
            "{n} square path of {size:g} mm",
            "{n} square paths of {size:g} mm, half of them each way round",
            batch.tests,
            size=batch.size,
        )
    return tr_many("{tests}, on one new day", "{tests}, over {n} new days", batch.days, tests=tests)


def _between(low: float, high: float) -> str:
    return tr("{low} and {high} in 1000", low=rounded_down(low * 100) * 10, high=rounded_up(high * 100) * 10)


def further_section(answer: FurtherAnswer) -> Section:
    """The answer as a section of what ``fit`` says."""
    title = tr("Which further tests would help {run} most", run=shorten(answer.run, NAME_CELLS))
    return Section(title, tuple(_parts(answer)))


def _parts(answer: FurtherAnswer) -> Iterator[Part]:
    if answer.untold:
        yield tr(
            "Not known yet, or not how large it may be, though the run depends on it: {names}. Begin with tests of "
            "that; until then nobody can say how sure the odds are.",
            names=", ".join(map(_untold_name, answer.untold)),
        )
        yield Points(tuple(_begin(answer)))
    if not answer.first:
        return
    yield tr_many(
        "Now, with {n} test driven: between {between}. With more tests it would lie about between:",
        "Now, with {n} tests driven: between {between}. With more tests it would lie about between:",
        answer.tests,
        between=_between(answer.low, answer.high),
    )
    yield Table((tr("tests"), tr("then between")), rows(map(_row, answer.first[:SHOWN])))
    best = answer.first[0]
    gained = (answer.high - answer.low) - (best.high - best.low)
    if gained < 0.02:
        yield tr(
            "None of them changes much: what is left is chance, or needs many more tests. Table time is better spent "
            "on the run itself."
        )
    elif len(answer.then) > 1:
        after = answer.then[1]
        yield tr(
            "After the first of these, best: {tests} (then between about {between}).",
            tests=batch_words(after.batch),
            between=_between(after.low, after.high),
        )


def _untold_name(name: str) -> str:
    words = name.replace(".", ": ")
    return tr("how stops depend on the speed ({name})", name=words) if name in GROWING else words


def _begin(answer: FurtherAnswer) -> Iterator[str]:
    groups = {name.split(".")[0] if "." in name else name for name in answer.untold if not name.endswith(".grows")}
    straight = {"straight.stop", "straight.distance", "straight.veer", "bias.distance", "bias.veer", "gyro.hold"}
    if straight & set(answer.untold):
        yield tr("3 straights of 300 mm and 3 of 1000 mm; note the travel and how far sideways.")
    if groups & {"turn", "gyro"} or "bias.turn" in answer.untold:
        yield tr("3 turns of 90 degrees and 3 of 360 degrees, or square paths both ways round.")
    if "straight.grows" in answer.untold:
        yield tr("5 straights at the run's slowest speed and 5 at its fastest: how stop errors grow with the speed.")
    if "turn.grows" in answer.untold:
        yield tr("5 turns at the run's slowest turning speed and 5 at its fastest, likewise.")
    yield tr("The same again on another day or two: what differs from day to day shows only then.")


def _row(worth: Worth) -> tuple[str, str]:
    return batch_words(worth.batch), _between(worth.low, worth.high)
