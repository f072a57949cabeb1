"""The answer of ``fieldsim aim`` in words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_later, tr_many
from fieldsim.lettering import shorten
from fieldsim.report.phrases import NAME_CELLS, as_written, fixed, how_often, listed, no_proof, spoken
from fieldsim.report.statement import Row, Section, Statement, Table, rows
from fieldsim.sim.motion import wrapped

if TYPE_CHECKING:
    from fieldsim.planning.aim import AimAnswer, AimNumber, AimWayAnswer, LandingAnswer

TITLE_CELLS = 40
# A tool this near is on the target, mm: nobody sees less on the mat.
ON_IT = 0.5
# So often in place, the aim is not what is wrong.
WELL_AIMED = 0.5


def aim_statement(answer: AimAnswer) -> Statement:
    """The answer as a statement."""
    run, robot, field = (shorten(name, TITLE_CELLS) for name in (answer.run, answer.robot, answer.field))
    target = shorten(answer.target, NAME_CELLS)
    about = [
        tr_many("{n} trial, seed {seed}", "{n} trials, seed {seed}", answer.trials, seed=answer.seed),
        tr("looked at when it acts, on segment {number}", number=answer.segment)
        if answer.segment is not None
        else tr("looked at where the run ends, after segment {number}", number=answer.segments),
    ]
    landed = [(tr("as planned"), answer.planned)]
    if answer.middle is not None:
        landed.append((tr("in the middle of the trials"), answer.middle))
    where = Table(
        (tr("when"), tr("where it lands, as the robot looks"), tr("off in all"), tr("heading")),
        rows((name, landing_words(each), _mm(each.away), _heading(each)) for name, each in landed),
        text_head=("", tr("where it lands, as the robot looks"), tr("off in all"), tr("heading")),
    )
    sections = [Section(tr("Where the tool lands"), (where,))]
    if answer.ways:
        sections.append(Section(tr("What brings it there"), (_ways(answer),)))
    return Statement(
        name=tr("{run}: aimed at {target}", run=run, target=target),
        title=tr("{run}: {robot} on {field}, aimed at {target}", run=run, robot=robot, field=field, target=target),
        about=tuple(about),
        headline=headline(answer),
        further=tuple(_further(answer)),
        sections=tuple(sections),
        advice=tuple(_advice(answer)),
        closing=(as_written(), no_proof()),
    )


def headline(answer: AimAnswer) -> str:
    """The one sentence: 'In the middle of the trials the tool lands 12 mm short and 28 mm to the left of lever ...'."""
    target = shorten(answer.target, NAME_CELLS)
    if answer.middle is None:
        return tr("No trial comes that far: each touches something or misses a square or a line before.")
    return tr(
        "In the middle of the trials the tool lands {where} ({target}; {within} mm are allowed).",
        where=landing_words(answer.middle),
        target=target,
        within=spoken(answer.within),
    )


def landing_words(landing: LandingAnswer) -> str:
    """'12 mm short, 28 mm too far left'."""
    found = []
    for off, more, less in (
        (landing.ahead, tr_later("{off} mm too far"), tr_later("{off} mm short")),
        (landing.left, tr_later("{off} mm too far to the left"), tr_later("{off} mm too far to the right")),
    ):
        if abs(off) >= ON_IT:
            found.append(tr(more if off > 0 else less, off=_whole(abs(off))))
    return listed(found) if found else tr("on the target")


def _mm(value: float) -> str:
    return tr("{off} mm", off=_whole(value))


def _whole(value: float) -> str:
    return fixed(value, 0 if value >= 10 else 1)


def _heading(landing: LandingAnswer) -> str:
    told = fixed(landing.heading + 0.0, 1)
    if landing.turned is None or abs(landing.turned) < 0.05:
        return told
    return tr("{told} (asked for: {wanted})", told=told, wanted=spoken(wrapped(landing.heading - landing.turned)))


def _further(answer: AimAnswer) -> Iterator[str]:
    yield tr(
        "The tool is in place, with nothing touched before, {often}.", often=how_often(answer.in_place, answer.trials)
    )


def _ways(answer: AimAnswer) -> Table:
    heads = (
        tr("what to type"), tr("what the robot is to do"), tr("where the tool lands then"), tr("in place"),
    )  # fmt: skip
    told = []
    for way in answer.ways:
        below = []
        if way.touches:
            names = listed([shorten(name, NAME_CELLS) for name in way.touches])
            below.append(tr("On its way it touches {names} more often than before.", names=names))
        if _turned_wrong(answer, way):
            below.append(tr("It does not look the way the target asks for then."))
        often = how_often(way.in_place, answer.trials)
        wanted = ", ".join(_wanted(each) for each in way.numbers)
        told.append(Row((way.what, wanted, landing_words(way.leaves), often), tuple(below)))
    return Table(heads, tuple(told), text_head=heads, below_head=tr("what else happens"))


def _wanted(number: AimNumber) -> str:
    unit = tr_later("{key} {wanted} degrees") if number.key in ("turn", "arc") else tr_later("{key} {wanted} mm")
    return tr(unit, key=number.key, wanted=fixed(number.wanted, 1))


def _turned_wrong(answer: AimAnswer, way: AimWayAnswer) -> bool:
    turned = way.leaves.turned
    return turned is not None and answer.heading_within is not None and abs(turned) > answer.heading_within


def _advice(answer: AimAnswer) -> Iterator[str]:
    best = next((way for way in answer.ways if not _turned_wrong(answer, way)), None)
    if best is not None and best.in_place.low > answer.in_place.high:
        yield tr(
            "Type {what}: then the tool is in place {often}.",
            what=best.what,
            often=how_often(best.in_place, answer.trials),
        )
        if best.kind == "change" and answer.segment is not None and answer.segment < answer.segments:
            yield tr("What comes after the act starts from another place then: look at it with try.")
    elif answer.in_place.share >= WELL_AIMED:
        yield tr("It is as well aimed as typed numbers go: with none of these the tool is in place truly more often.")
    elif best is not None:
        yield tr("None of these gets there by itself: see what is in the way, and put in segments that go round it.")
    else:
        yield tr("No number near those of the run brings it there: change the way to it.")
