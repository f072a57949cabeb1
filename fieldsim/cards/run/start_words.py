"""How the robot is set, in words: what holds it, which way it looks, what a ruler finds."""

from __future__ import annotations

from fieldsim.cards.run.card import Card
from fieldsim.cards.run.start import Measure
from fieldsim.cards.run.words import millimetres, short_name, wear_words
from fieldsim.language import named, tr, tr_later
from fieldsim.report.phrases import spoken

# Corners and sides of the robot, as ``card.CORNERS`` and ``SIDES`` name them.
PLACES = {
    "rear left": tr_later("rear left corner"),
    "rear right": tr_later("rear right corner"),
    "front right": tr_later("front right corner"),
    "front left": tr_later("front left corner"),
    "rear": tr_later("rear"),
    "right side": tr_later("right side"),
    "front": tr_later("front"),
    "left side": tr_later("left side"),
}


def thing_words(name: str) -> str:
    """A wall or an edge in the language; an obstacle by its name, shortened."""
    return short_name(named(name))


def place_words(name: str) -> str:
    return tr(PLACES[name.removesuffix(" corner")])


def jig_words(card: Card) -> str:
    start = card.start
    along, across, turned = start.spread
    if start.jig is None or start.holds is None:
        return tr(
            "No jig: set it by eye, give or take {most} mm and {turned} degrees.",
            most=spoken(max(along, across)),
            turned=spoken(turned),
        )
    return tr("Jig: {jig}. Push the {corner} home.", jig=short_name(start.jig), corner=place_words(start.holds))


_QUARTERS = {0: "right", 90: "far", 180: "left", -90: "near"}


def looks_words(card: Card) -> str:
    """Which way the robot looks."""
    noun = card.start.measures[0].wall.split()[-1]
    heading = card.start.pose[2]
    quarter = 90 * round(heading / 90)
    off = heading - quarter
    wall = named(f"{_QUARTERS[180 if quarter == -180 else quarter]} {noun}")
    if abs(off) < 0.05:
        return tr("It looks straight at the {wall}.", wall=wall)
    turned = spoken(abs(round(off, 1)))
    if off > 0:
        return tr("It looks {turned} degrees to the left of straight at the {wall}.", turned=turned, wall=wall)
    return tr("It looks {turned} degrees to the right of straight at the {wall}.", turned=turned, wall=wall)


def far_words(measure: Measure) -> str:
    """'60 mm', and what is between the corner and the wall."""
    if measure.distance < -0.05:
        far = tr("{distance} beyond it", distance=millimetres(-measure.distance))
    else:
        far = tr("0 mm, it touches") if measure.distance < 0.05 else millimetres(measure.distance)
    if measure.over:
        far = tr("{distance} ({name} is between)", distance=far, name=short_name(measure.over))
    return far


def measure_words(measure: Measure) -> str:
    """'A: rear left corner to left wall, 60 mm'."""
    return tr(
        "{letter}: {corner} to {wall}, {distance}",
        letter=measure.letter,
        corner=place_words(measure.corner),
        wall=thing_words(measure.wall),
        distance=far_words(measure),
    )


def heading_words(card: Card) -> str:
    """What the two measures of one side say about the heading."""
    start = card.start
    one, other = start.check
    by = millimetres(start.per_degree)
    if abs(start.difference) < 0.05:
        return tr(
            "Heading: right if {one} and {other} are the same; each degree off changes that by {by}.",
            one=one, other=other, by=by,
        )  # fmt: skip
    difference = millimetres(abs(start.difference))
    if start.difference > 0:
        return tr(
            "Heading: right if {other} is {difference} more than {one}; each degree off changes that by {by}.",
            one=one, other=other, difference=difference, by=by,
        )  # fmt: skip
    return tr(
        "Heading: right if {other} is {difference} less than {one}; each degree off changes that by {by}.",
        one=one, other=other, difference=difference, by=by,
    )  # fmt: skip


def start_notes(card: Card) -> list[str]:
    """What is good to know of the start, beside what is checked."""
    found = [wear_words(card)] if card.bare else []
    return [*found, *([jig_words(card)] if card.start.jig is None else []), heading_words(card)]


def start_picture_words(card: Card) -> str:
    """The start's picture for those who cannot see it."""
    measures = "; ".join(measure_words(measure) for measure in card.start.measures)
    if card.start.jig is None:
        where = tr("The robot from above, set by eye.")
    else:
        where = tr("The robot from above, in the jig {jig}.", jig=short_name(card.start.jig))
    return f"{where} {looks_words(card)} {measures}."
