"""The answer of ``fieldsim jigs`` in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_many
from fieldsim.lettering import shorten
from fieldsim.model import StartByEye
from fieldsim.report.phrases import NAME_CELLS, as_written, how_often, left_open, no_proof, robots_words, stopped_words
from fieldsim.report.statement import Section, Statement, Table, rows, statement_text
from fieldsim.rounding import rounded_down, rounded_up

if TYPE_CHECKING:
    from fieldsim.studies.jigs import JigAnswer, JigsAnswer

TITLE_CELLS = 40


def jigs_text(answer: JigsAnswer, width: int = 100) -> str:
    """The whole answer as text, ending in a line end."""
    return statement_text(jigs_statement(answer), width)


def jigs_statement(answer: JigsAnswer) -> Statement:
    """The answer as a statement."""
    run, robot, field = (shorten(name, TITLE_CELLS) for name in (answer.run, answer.robot, answer.field))
    eye = StartByEye((0.0, 0.0), 0.0).spread
    about = [
        _trials(answer),
        tr(
            "'by eye' is for comparison: the run's own start, give or take {along:g} mm and {heading:g} degrees",
            along=eye.along,
            heading=eye.heading,
        ),
    ]
    if answer.interrupted:
        about.append(tr("Stopped early: the rest was not tried."))
    further = []
    if answer.meets_need is not None and answer.need is not None:
        wanted = answer.need * 1000
        if answer.meets_need:
            further.append(tr("Wanted: {wanted:.4g} in 1000; the best start meets that.", wanted=wanted))
        else:
            further.append(tr("Wanted: {wanted:.4g} in 1000; the best start does not meet that.", wanted=wanted))
    found = []
    tried = [jig for jig in answer.jigs if jig.success is not None]
    if tried:
        heads = (tr("start"), tr("gets through"), tr("against the best"), tr("how many trials"))
        found.append(
            Section(
                tr("The starts, best first"),
                (Table(heads, rows(_row(jig, jig is tried[0] or answer.lost is not None) for jig in tried)),),
            )
        )
    out = [jig for jig in answer.jigs if jig.why_not is not None]
    if out:
        why = rows((start_name(jig), jig.why_not or "") for jig in out)
        found.append(Section(tr("Not possible"), (Table((tr("start"), tr("why not")), why),)))
    changed = [jig for jig in tried if jig.changed]
    if changed:
        told = rows((start_name(jig), "; ".join(jig.changed)) for jig in changed)
        found.append(Section(tr("What changes in the run"), (Table((tr("start"), tr("what changes")), told),)))
    return Statement(
        name=tr("{run}: which jig?", run=run),
        title=tr("{run}: {robot} on {field}, from every jig", run=run, robot=robot, field=field),
        about=tuple(about),
        headline=headline(answer),
        further=tuple(further),
        sections=tuple(found),
        advice=tuple(_advice(answer, tried)),
        closing=(as_written(), no_proof()),
    )


def _trials(answer: JigsAnswer) -> str:
    if answer.keep == "path":
        return tr_many(
            "{n} trial, seed {seed}; the same segments from each",
            "{n} trials, seed {seed}; the same segments from each",
            answer.trials,
            seed=answer.seed,
        )
    return tr_many(
        "{n} trial, seed {seed}; re-aimed so that the rest of the path stays where it is",
        "{n} trials, seed {seed}; re-aimed so that the rest of the path stays where it is",
        answer.trials,
        seed=answer.seed,
    )


def start_name(jig: JigAnswer, most: int = NAME_CELLS) -> str:
    """The start's jig, or 'by eye'."""
    return tr("by eye") if jig.by_eye else shorten(jig.jig, most)


def headline(answer: JigsAnswer) -> str:
    """The one sentence: 'Best start: corner block. From there it gets through ...'."""
    best = answer.best
    if best is None or best.success is None:
        return tr("The run can begin at none of them.")
    often = how_often(best.success, best.trials)
    if answer.lost is not None and best.success.share == 0:
        often = tr("It gets through from none of them: {often}.", often=often)
        return f"{often} {stopped_words(answer.lost)}"
    if answer.lost is not None:
        return " ".join(
            (
                tr("From none of them does it get through often. The best is {start}: {often}.",
                   start=start_name(best), often=often),
                stopped_words(answer.lost),
            )
        )  # fmt: skip
    return tr("Best start: {start}. From there it gets through {often}.", start=start_name(best), often=often)


def _row(jig: JigAnswer, is_best: bool) -> tuple[str, str, str, str]:
    assert jig.success is not None
    if jig.dropped:
        trials = tr_many("{n} trial, then given up", "{n} trials, then given up", jig.trials)
    else:
        trials = tr_many("{n} trial", "{n} trials", jig.trials)
    return start_name(jig), how_often(jig.success, jig.trials), "" if is_best else behind_words(jig), trials


def behind_words(jig: JigAnswer) -> str:
    """What a start loses to the best one, and whether that can be luck."""
    if jig.behind is None:
        return ""
    lost = jig.behind
    by, low, high = round(lost.share * 1000), rounded_down(lost.low * 1000), rounded_up(lost.high * 1000)
    if jig.truly_behind and jig.holds is not None and left_open(jig.holds):
        return tr(
            "behind on the same trials, by {by} in 1000 (between {low} and {high}), but only for {robots} robots that "
            "fit your tests",
            by=by, low=low, high=high, robots=robots_words(jig.holds),
        )  # fmt: skip
    if jig.truly_behind:
        return tr(
            "truly behind on the same trials, by {by} in 1000 (between {low} and {high})", by=by, low=low, high=high
        )
    return tr(
        "a coin toss: on the same trials {by} in 1000 behind (between {low} and {high})", by=by, low=low, high=high
    )


def _advice(answer: JigsAnswer, tried: list[JigAnswer]) -> Iterator[str]:
    if not tried:
        yield tr("See why under Not possible, and move a jig or change the first segments.")
        return
    best = tried[0]
    if answer.lost is not None:
        yield tr("There is nothing to choose by yet: mend the run first (fieldsim try RUN).")
        return
    tosses = [jig for jig in tried[1:] if not jig.truly_behind]
    unsure = [jig for jig in tried[1:] if jig.truly_behind and left_open(jig.holds)]
    if tosses:
        yield tr(
            "{best} and {others} cannot be told apart by these trials: take the one that is easier to set.",
            best=start_name(best),
            others=tr(" or ").join(start_name(jig) for jig in tosses),
        )
    elif unsure:
        yield tr(
            "{best} is the best with the robot as written, but what your tests leave open may turn it against "
            "{others}: more tests settle that (fieldsim fit TESTS ROBOT --plan RUN).",
            best=start_name(best),
            others=tr(" or ").join(start_name(jig) for jig in unsure),
        )
    elif len(tried) > 1:
        yield tr("{best} is truly the best of these for this run.", best=start_name(best))
    eye = next((jig for jig in tried if jig.by_eye), None)
    own = next((jig for jig in tried if jig.jig == answer.start), None)
    if eye is not None and own is not None and eye.success is not None and eye.behind is not None:
        assert own.success is not None
        gain = round((eye.behind.share - (own.behind.share if own.behind else 0.0)) * 1000)
        if eye.truly_behind and gain > 0:
            yield tr(
                "The jig is worth it: set by eye at {jig} the run loses about {gain} in 1000.",
                jig=start_name(own),
                gain=gain,
            )
    if best.changed and answer.start != best.jig:
        yield tr(
            "To use {jig}, change the run as told under What changes in the run, and look at it with try before you "
            "trust it.",
            jig=start_name(best),
        )
