"""The answer of ``fieldsim jigs`` in words."""

from __future__ import annotations

from collections.abc import Iterator

from fieldsim.answer import JigAnswer, JigsAnswer
from fieldsim.lettering import shorten
from fieldsim.model import StartByEye
from fieldsim.phrases import NAME_CELLS, as_written, how_often, no_proof, rounded_down, rounded_up
from fieldsim.statement import Section, Statement, Table, rows, statement_text

TITLE_CELLS = 40

KEPT = {"targets": "re-aimed so that the rest of the path stays where it is", "path": "the same segments from each"}


def jigs_text(answer: JigsAnswer, width: int = 100) -> str:
    """The whole answer as text, ending in a line end."""
    return statement_text(jigs_statement(answer), width)


def jigs_statement(answer: JigsAnswer) -> Statement:
    """The answer as a statement."""
    run, robot, field = (shorten(name, TITLE_CELLS) for name in (answer.run, answer.robot, answer.field))
    eye = StartByEye((0.0, 0.0), 0.0).spread
    about = [
        f"{answer.trials} trials, seed {answer.seed}; {KEPT[answer.keep]}",
        f"'by eye' is for comparison: the run's own start, give or take {eye.along:g} mm and {eye.heading:g} degrees",
    ]
    if answer.interrupted:
        about.append("Stopped early: the rest was not tried.")
    further = []
    if answer.meets_need is not None and answer.need is not None:
        verdict = "meets" if answer.meets_need else "does not meet"
        further.append(f"Wanted: {answer.need * 1000:.4g} in 1000; the best start {verdict} that.")
    found = []
    tried = [jig for jig in answer.jigs if jig.success is not None]
    if tried:
        heads = ("start", "gets through", "against the best", "how many trials")
        found.append(
            Section("The starts, best first", (Table(heads, rows(_row(jig, jig is tried[0]) for jig in tried)),))
        )
    out = [jig for jig in answer.jigs if jig.why_not is not None]
    if out:
        why = rows((shorten(jig.jig, NAME_CELLS), jig.why_not or "") for jig in out)
        found.append(Section("Not possible", (Table(("start", "why not"), why),)))
    changed = [jig for jig in tried if jig.changed]
    if changed:
        told = rows((shorten(jig.jig, NAME_CELLS), "; ".join(jig.changed)) for jig in changed)
        found.append(Section("What changes in the run", (Table(("start", "what changes"), told),)))
    return Statement(
        name=f"{run}: which jig?",
        title=f"{run}: {robot} on {field}, from every jig",
        about=tuple(about),
        headline=headline(answer),
        further=tuple(further),
        sections=tuple(found),
        advice=tuple(_advice(answer, tried)),
        closing=(as_written(), no_proof()),
    )


def _name(jig: JigAnswer) -> str:
    return shorten(jig.jig, NAME_CELLS)


def headline(answer: JigsAnswer) -> str:
    """The one sentence: 'Best start: corner block. From there it gets through ...'."""
    best = answer.best
    if best is None or best.success is None:
        return "The run can begin at none of them."
    often = how_often(best.success, best.trials)
    return f"Best start: {_name(best)}. From there it gets through {often}."


def _row(jig: JigAnswer, is_best: bool) -> tuple[str, str, str, str]:
    assert jig.success is not None
    trials = f"{jig.trials} trials"
    if jig.dropped and jig.behind is not None:
        best = round((jig.success.share + jig.behind.share) * 1000)
        trials += f", then given up (the best had {best} in 1000 of these)"
    return _name(jig), how_often(jig.success, jig.trials), "" if is_best else behind_words(jig), trials


def behind_words(jig: JigAnswer) -> str:
    """What a start loses to the best one, and whether that can be luck."""
    if jig.behind is None:
        return ""
    lost = jig.behind
    between = f"between {rounded_down(lost.low * 1000)} and {rounded_up(lost.high * 1000)}"
    if jig.truly_behind:
        return f"truly behind on the same trials, by {round(lost.share * 1000)} in 1000 ({between})"
    return f"a coin toss: on the same trials {round(lost.share * 1000)} in 1000 behind ({between})"


def _advice(answer: JigsAnswer, tried: list[JigAnswer]) -> Iterator[str]:
    if not tried:
        yield "See why under Not possible, and move a jig or change the first segments."
        return
    best = tried[0]
    tosses = [jig for jig in tried[1:] if not jig.truly_behind]
    if tosses:
        names = " or ".join(_name(jig) for jig in tosses)
        yield f"{_name(best)} and {names} cannot be told apart by these trials: take the one that is easier to set."
    elif len(tried) > 1:
        yield f"{_name(best)} is truly the best of these for this run."
    eye = next((jig for jig in tried if jig.by_eye), None)
    own = next((jig for jig in tried if jig.jig == answer.start), None)
    if eye is not None and own is not None and eye.success is not None and eye.behind is not None:
        assert own.success is not None
        gain = round((eye.behind.share - (own.behind.share if own.behind else 0.0)) * 1000)
        if eye.truly_behind and gain > 0:
            yield f"The jig is worth it: set by eye at {_name(own)} the run loses about {gain} in 1000."
    if best.changed and answer.start != best.jig:
        yield (
            f"To use {_name(best)}, change the run as told under What changes in the run, and look at it with try "
            "before you trust it."
        )
