"""The answer of ``fieldsim jigs --anywhere`` in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_many
from fieldsim.lettering import shorten
from fieldsim.report.phrases import (
    NAME_CELLS,
    as_written,
    fixed,
    how_often,
    how_often_shortly,
    left_open,
    no_proof,
    robots_words,
    signed,
    spoken,
)
from fieldsim.report.statement import Section, Statement, Table, rows

if TYPE_CHECKING:
    from fieldsim.planning.anywhere import AnywhereAnswer, PlaceAnswer

TITLE_CELLS = 40


def anywhere_statement(answer: AnywhereAnswer) -> Statement:
    """The answer as a statement."""
    run, robot, field = (shorten(name, TITLE_CELLS) for name in (answer.run, answer.robot, answer.field))
    area = shorten(answer.area, NAME_CELLS)
    sections = []
    places = [(tr("best"), answer.best if answer.better else None), (tr("now"), answer.now)]
    told = [(name, place) for name, place in places if place is not None]
    if told:
        sections.append(Section(tr("Where the body stands"), (places_table(told, answer.trials),)))
    if answer.better and answer.best is not None and answer.best.changed:
        sections.append(Section(tr("What is typed from there"), ("; ".join(answer.best.changed),)))
    return Statement(
        name=tr("{run}: where to build the jig", run=run),
        title=tr("{run}: {robot} on {field}, a jig anywhere in {area}", run=run, robot=robot, field=field, area=area),
        about=tuple(_about(answer)),
        headline=headline(answer),
        further=tuple(_further(answer)),
        sections=tuple(sections),
        advice=tuple(_advice(answer)),
        closing=(as_written(), no_proof()),
    )


def _about(answer: AnywhereAnswer) -> Iterator[str]:
    yield tr_many(
        "{n} place was driven from; from {out} the run cannot begin", "{n} places were driven from; from {out} the run "
        "cannot begin", answer.looked, out=answer.out,
    )  # fmt: skip
    yield tr_many(
        "told of {n} fresh trial, seed {seed}: those that try drives",
        "told of {n} fresh trials, seed {seed}: those that try drives",
        answer.trials,
        seed=answer.seed,
    )
    if answer.keep == "targets":
        yield tr("the first segments are re-aimed from each place, so that the rest stays where it is")
    else:
        yield tr("the same segments are driven from each place")
    if answer.interrupted:
        yield tr("Stopped early: this is the best so far.")


def headline(answer: AnywhereAnswer) -> str:
    """The one sentence: 'Build the jig 260 mm from the left wall and 230 mm from the near wall: 882 in 1000 ...'."""
    area = shorten(answer.area, NAME_CELLS)
    if answer.best is None:
        return tr("From nowhere in {area} can this run begin.", area=area)
    if not answer.better:
        return tr("Nowhere in {area} is truly better than the start it has.", area=area)
    often = how_often(answer.best.success, answer.trials)
    if answer.now is None:
        return tr("Build the jig {where}: it gets through {often}.", where=by_ruler(answer.best), often=often)
    return tr(
        "Build the jig {where}: it gets through {often} instead of {now}.",
        where=by_ruler(answer.best),
        often=often,
        now=how_often_shortly(answer.now.success, answer.trials),
    )


def by_ruler(place: PlaceAnswer) -> str:
    """'so that the body is 260 mm from the left edge and 230 mm from the near edge': from the nearer edge each way."""
    if place.from_left <= place.from_right:
        across = tr("{mm} mm from the left edge", mm=spoken(place.from_left))
    else:
        across = tr("{mm} mm from the right edge", mm=spoken(place.from_right))
    if place.from_near <= place.from_far:
        along = tr("{mm} mm from the near edge", mm=spoken(place.from_near))
    else:
        along = tr("{mm} mm from the far edge", mm=spoken(place.from_far))
    return tr("so that the body is {across} and {along}", across=across, along=along)


def _further(answer: AnywhereAnswer) -> Iterator[str]:
    if answer.best is None:
        if answer.why_not is not None:
            yield tr("Most often: {why}.", why=answer.why_not)
        return
    if answer.why_not is not None and answer.out > answer.looked:
        yield tr("From most places it cannot begin; most often: {why}.", why=answer.why_not)
    if not answer.better and answer.now is not None:
        yield tr("It gets through {often}.", often=how_often(answer.now.success, answer.trials))
    if answer.better and answer.difference is not None:
        gain = answer.difference
        yield tr(
            "On the same trials the present start loses {loss} in 1000 against it (between {low} and {high}).",
            loss=signed(gain.share * 1000, 0), low=signed(gain.low * 1000, 0), high=signed(gain.high * 1000, 0),
        )  # fmt: skip
    if answer.better:
        yield from built_where(answer.patch)
    if answer.holds is not None:
        if left_open(answer.holds):
            yield tr("The robot's tests leave that open: it holds for {robots} robots that fit them.",
                     robots=robots_words(answer.holds))  # fmt: skip
        else:
            yield tr("It holds for {robots} robots that fit the robot's tests.", robots=robots_words(answer.holds))
    if answer.meets_need is not None and answer.need is not None:
        wanted = answer.need * 1000
        if answer.meets_need:
            yield tr("Wanted: {wanted:.4g} in 1000; the best place meets that.", wanted=wanted)
        else:
            yield tr("Wanted: {wanted:.4g} in 1000; the best place does not meet that.", wanted=wanted)


def places_table(told: list[tuple[str, PlaceAnswer]], trials: int) -> Table:
    """Places by ruler, each under its name."""
    heads = (
        tr("place"), tr("left edge"), tr("near edge"), tr("looks to"), tr("held at"), tr("gets through"),
    )  # fmt: skip
    return Table(
        heads,
        rows(
            (
                name, tr("{n} mm", n=spoken(place.from_left)), tr("{n} mm", n=spoken(place.from_near)),
                tr("{n} degrees", n=spoken(round(place.heading, 3) + 0.0)),
                tr("by eye") if place.holds is None else _corner(place.holds),
                how_often_shortly(place.success, trials),
            )
            for name, place in told
        ),
        text_head=heads,
    )  # fmt: skip


def _corner(holds: str) -> str:
    return {
        "rear left": tr("its rear left corner"), "rear right": tr("its rear right corner"),
        "front left": tr("its front left corner"), "front right": tr("its front right corner"),
    }[holds]  # fmt: skip


def _advice(answer: AnywhereAnswer) -> Iterator[str]:
    if answer.best is None:
        if answer.keep == "targets":
            yield tr("Try it with --keep path: the same segments from every place.")
        yield tr("Or name another start area with --area.")
        return
    if not answer.better:
        yield tr("The jig stands well: what else costs, causes says; tune looks for better numbers.")
        return
    best = answer.best
    yield from write_it(best)
    yield tr("The jig's own block is not in the plan: keep it out of the robot's way, and draw it into the field.")
    yield tr("Whether a jig may stand there is for the event's rules to say.")


def write_it(best: PlaceAnswer) -> Iterator[str]:
    """How the jig is written into the field's file."""
    if best.corner is not None:
        x, y = best.corner
        yield tr(
            "Write it into the field's file as a jig: corner: [{x}, {y}], heading: {heading}, holds: {holds}; then "
            "type the numbers above.",
            x=spoken(round(x, 1)), y=spoken(round(y, 1)), heading=spoken(round(best.heading, 3) + 0.0),
            holds=best.holds,
        )  # fmt: skip


def built_where(patch: tuple[float, float, float, float] | None) -> Iterator[str]:
    """How exactly the jig has to stand there."""
    if patch is None:
        return
    left, right, near, far = patch
    if max(patch) > 0:
        yield tr(
            "As good is anywhere from there up to {left} mm to the left, {right} to the right, {near} nearer and "
            "{far} farther.",
            left=fixed(left, 0), right=fixed(right, 0), near=fixed(near, 0), far=fixed(far, 0),
        )  # fmt: skip
    else:
        yield tr("It has to be there: 5 mm beside it is worse already.")


def picture_title(answer: AnywhereAnswer) -> str:
    return tr("{run}: where to build the jig", run=shorten(answer.run, NAME_CELLS))
