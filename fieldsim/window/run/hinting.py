"""What costs most, and what a square is worth: looked for in the background while the hand rests, told beside the odds,
and put in by a press."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fieldsim.language import tr
from fieldsim.model import Run
from fieldsim.report.words.dearest import dearest_words, square_words
from fieldsim.window.dials import accepted
from fieldsim.window.errand import Errand, Watch
from fieldsim.window.run.edits import with_segments

if TYPE_CHECKING:
    from fieldsim.window.run.session import RunSession

__all__ = ["Hint", "errand", "hint_lines", "take_hint", "wanted"]


@dataclass(frozen=True, eq=False)
class Hint:
    """What came of it: an answer (``studies.dearest``), or None where there is none, or not yet."""

    over: bool = False
    answer: Any = None


def errand(seed: int) -> Errand[Run, Hint]:
    """The thread that looks for it."""

    def work(run: Run, watch: Watch) -> Hint:
        # Here and not at the top: the window is not to wait for what studies.
        from fieldsim.studies.dearest import dearest

        return Hint(True, dearest(run, seed=seed, watch=watch))

    return Errand(
        "fieldsim what costs most", work, lambda run, done, wanted: Hint(), lambda run, problem: Hint(over=True)
    )


def wanted(session: RunSession) -> Run | None:
    """The run of which it is to be known now: one that rests and was counted to the end. None if it is known, or
    nothing is to be known."""
    shown = session._fresh()
    if shown is None or not shown.full or session.dragging or session.problem is not None:
        return None
    if session.hint is not None and session.hint[0] is session.run:
        return None
    return session.run


def hint_lines(session: RunSession) -> tuple[str, ...]:
    """What is told of it below the odds."""
    hint = session.hint
    if hint is None or hint[0] is not session.run or hint[1].answer is None:
        return ()
    return tuple(words for words in (dearest_words(hint[1].answer), square_words(hint[1].answer)) if words)


def take_hint(session: RunSession) -> None:
    """The square is put in."""
    hint = session.hint
    if hint is None or hint[0] is not session.run or hint[1].answer is None or hint[1].answer.square is None:
        return
    square = hint[1].answer.square
    run = session.run
    made = accepted(
        lambda: with_segments(run, run.segments[: square.after], square.segments, run.segments[square.after :])
    )
    if session.change(made, square.segments[0].in_words()):
        session._pick(square.after)
        session.say(tr("Put in: {words}", words=square_words(hint[1].answer)))
