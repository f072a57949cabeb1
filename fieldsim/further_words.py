"""The answer of ``fieldsim fit --plan`` in words and as JSON."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from fieldsim.further import Batch, FurtherAnswer, Worth
from fieldsim.lettering import numbered, shorten, table, wrapped_lines
from fieldsim.phrases import NAME_CELLS, rounded_down, rounded_up

SHOWN = 5


def batch_words(batch: Batch) -> str:
    """'4 turns of 360 degrees, half of them on each of two new days'."""
    noun = {
        "straight": f"straights of {batch.size:g} mm",
        "turn": f"turns of {batch.size:g} degrees",
        "square path": f"square paths of {batch.size:g} mm, half of them each way round",
    }[batch.kind]
    days = "on one new day" if batch.days == 1 else f"over {batch.days} new days"
    return f"{batch.tests} {noun}, {days}"


def _between(low: float, high: float) -> str:
    return f"{rounded_down(low * 100) * 10} and {rounded_up(high * 100) * 10} in 1000"


def further_text(answer: FurtherAnswer, width: int = 100) -> str:
    """The whole answer as text, ending in a line end."""
    return "\n".join(line.rstrip() for line in _lines(answer, width)) + "\n"


def _lines(answer: FurtherAnswer, width: int) -> Iterator[str]:
    yield from wrapped_lines(f"Which further tests would help {shorten(answer.run, NAME_CELLS)} most", width)
    if answer.untold:
        names = ", ".join(name.replace(".", ": ") for name in answer.untold)
        yield from wrapped_lines(
            f"Not known yet, or not how large it may be, though the run depends on it: {names}. Begin with tests of "
            "that; until then nobody can say how sure the odds are.",
            width,
        )
        yield from numbered(list(_begin(answer)), width)
    if not answer.first:
        return
    yield from wrapped_lines(
        f"Now, with {answer.tests} tests driven: between {_between(answer.low, answer.high)}. With more tests it would "
        "lie about between:",
        width,
    )
    yield from table([_row(each) for each in answer.first[:SHOWN]], width)
    best = answer.first[0]
    gained = (answer.high - answer.low) - (best.high - best.low)
    if gained < 0.02:
        yield from wrapped_lines(
            "None of them changes much: what is left is chance, or needs many more tests. Table time is better "
            "spent on the run itself.",
            width,
        )
    elif len(answer.then) > 1:
        after = answer.then[1]
        yield from wrapped_lines(
            f"After the first of these, best: {batch_words(after.batch)} (then between about "
            f"{_between(after.low, after.high)}).",
            width,
        )


def _begin(answer: FurtherAnswer) -> Iterator[str]:
    groups = {name.split(".")[0] if "." in name else name for name in answer.untold}
    straight = {"straight.stop", "straight.distance", "straight.veer", "bias.distance", "bias.veer", "gyro.hold"}
    if straight & set(answer.untold):
        yield "3 straights of 300 mm and 3 of 1000 mm; note the travel and how far sideways."
    if groups & {"turn", "gyro"} or "bias.turn" in answer.untold:
        yield "3 turns of 90 degrees and 3 of 360 degrees, or square paths both ways round."
    yield "The same again on another day or two: what differs from day to day shows only then."


def _row(worth: Worth) -> tuple[str, str]:
    return batch_words(worth.batch), _between(worth.low, worth.high)


def further_json(answer: FurtherAnswer) -> dict[str, Any]:
    """The whole answer as plain dictionaries; shares from 0 to 1."""
    return {
        "run": answer.run,
        "tests": answer.tests,
        "share": answer.share,
        "low": answer.low,
        "high": answer.high,
        "first": [_worth(each) for each in answer.first],
        "then": [_worth(each) for each in answer.then],
        "untold": list(answer.untold),
    }


def _worth(worth: Worth) -> dict[str, Any]:
    batch = worth.batch
    return {
        "kind": batch.kind,
        "size": batch.size,
        "tests": batch.tests,
        "days": batch.days,
        "low": worth.low,
        "high": worth.high,
    }
