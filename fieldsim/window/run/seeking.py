"""The best way from where a run ends (or from the segment that is picked) to a place or a target: looked for in the
background, by `fieldsim.planning.onward`, and put in when it is found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fieldsim.language import tr, tr_later
from fieldsim.model import Point, Run, Wait
from fieldsim.model.errors import FieldsimError
from fieldsim.report.phrases import how_often_shortly
from fieldsim.stats.intervals import Share
from fieldsim.window.dials import Refused
from fieldsim.window.errand import Errand, Watch
from fieldsim.window.run.driving import Wish, driven

if TYPE_CHECKING:
    from fieldsim.window.run.session import RunSession

__all__ = ["Seek", "Sought", "errand", "heard", "seek", "sought", "stop"]

# Trials that the way found, and the plain one, are told of: as many as the window then shows of the run.
TRIALS = 10_000


@dataclass(frozen=True, eq=False)
class Seek:
    """What is looked for: the way from the first ``at`` segments of a run to ``to``; ``plain`` is the act at that
    target by a turn and a straight, to be weighed against it."""

    run: Run
    at: int
    to: str | Point
    plain: Wish | None


@dataclass(frozen=True, eq=False)
class Sought:
    """What came of it by now."""

    done: int = 0
    wanted: int = 0
    over: bool = False
    segments: tuple[Any, ...] = ()
    share: Share | None = None
    """How often the run gets through to there, and"""
    plain: Share | None = None
    """how often by a turn and a straight; None if there is no such way."""
    is_plain: bool = False
    """A turn and a straight is what does best."""
    wrong: str = ""


def sought(wish: Seek, watch: Watch, *, seed: int = 1, threads: int | None = None) -> Sought:
    """Look for the way. What ``watch`` raises breaks it off."""
    # Here and not at the top: the window is not to wait for what plans.
    from fieldsim.planning.onward import first_segments, onward, share_of

    first = first_segments(wish.run, wish.at)
    try:
        found = onward(first, wish.to, trials=TRIALS, seed=seed, threads=threads, watch=watch)
        plain = None
        if wish.plain is not None:
            made = driven(first, len(first.segments), wish.plain)
            plain = None if isinstance(made, Refused) else share_of(made, trials=TRIALS, seed=seed)
    except (FieldsimError, ValueError) as problem:
        return Sought(over=True, wrong=str(problem).splitlines()[0])
    if plain is not None and wish.plain is not None and plain.share >= found.success.share:
        return Sought(over=True, segments=wish.plain.segments, share=plain, plain=plain, is_plain=True)
    return Sought(over=True, segments=found.segments, share=found.success, plain=plain)


def errand(*, seed: int = 1, threads: int | None = None) -> Errand[Seek, Sought]:
    """The thread that looks."""
    return Errand(
        "fieldsim best way",
        lambda wish, watch: sought(wish, watch, seed=seed, threads=threads),
        lambda wish, done, wanted: Sought(done, wanted),
        lambda wish, problem: Sought(over=True, wrong=f"{tr(MISTAKE)} {problem!r}"),
    )


MISTAKE = tr_later("That cannot be looked for, and that is fieldsim's mistake:")


# --- in the session ------------------------------------------------------------------------------------------------


def seek(session: RunSession, wish: Seek) -> None:
    session.seeking = wish
    session.wants.add("seek")
    session.say(tr("Looks for the best way there; escape breaks it off"))


def stop(session: RunSession) -> None:
    session.seeking = None
    session.wants.add("unseek")
    session.say(tr("Broken off"))


def heard(session: RunSession, wish: Seek, made: Sought) -> None:
    """News of what is looked for; of what is no longer wanted nothing is heard."""
    if session.seeking is not wish:
        return
    if not made.over:
        session.say(tr("Looks for the best way there: {percent} %", percent=round(100 * made.done / made.wanted)))
        return
    session.seeking = None
    if made.wrong:
        session.say(made.wrong)
    elif not made.segments:
        session.say(tr("No way was found from there; that is no proof that there is none"))
    elif session.run != wish.run:
        session.say(tr("The run was changed meanwhile: the way that was found fits it no longer"))
    else:
        found = Wish("seek", tr("the best way there"), made.segments)
        empty = session.run.segments == (Wait(0.0),)
        if not session.change(driven(session.run, wish.at, found), found.words):
            return
        last = (0 if empty else wish.at) + len(made.segments) - 1
        session._pick(last)
        session._to(session.clock.time_at(last + 1))
        session.say(_told(made))


def _told(made: Sought) -> str:
    assert made.share is not None
    often = how_often_shortly(made.share, TRIALS)
    if made.is_plain:
        return tr("Nothing is better than to turn and drive there: {often}", often=often)
    if made.plain is None:
        return tr("It gets there {often}", often=often)
    return tr("It gets there {often}; straight there it would be {plain}", often=often,
              plain=how_often_shortly(made.plain, TRIALS))  # fmt: skip
