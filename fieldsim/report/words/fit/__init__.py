"""The answer of ``fieldsim fit`` in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_later, tr_many
from fieldsim.lettering import shorten
from fieldsim.report.phrases import NAME_CELLS, fixed, listed, spoken
from fieldsim.report.statement import Part, Points, Section, Statement, Table, rows, statement_text
from fieldsim.report.words.fit.misfits import grows_parts, looked_words, misfit_section
from fieldsim.report.words.fit.numbers import MEANS, estimate_row, form_of, number_name, rounded_outwards

if TYPE_CHECKING:
    from fieldsim.calibration.estimate import Estimate, Fit, Placed, Squared
    from fieldsim.calibration.square_path import SquarePathAnswer


def counted(answer: Fit) -> str:
    """How many tests there are, always in the same words: '51 tests, 36 of them driven, on 3 days'."""
    words = tr_many("{n} test", "{n} tests", answer.tests)
    if answer.driven != answer.tests:
        if answer.driven:
            words = tr("{tests}, {driven} of them driven", tests=words, driven=answer.driven)
        else:
            words = tr("{tests}, none of them driven", tests=words)
    return tr("{tests}, on {days} days", tests=words, days=answer.dates) if answer.dates > 1 else words


def fit_text(
    answer: Fit, robot: str, sheet: str, width: int = 100, look: Sequence[str] = (), more: Sequence[Section] = ()
) -> str:
    """The whole answer as text, ending in a line end. ``look`` are the sheet's ``doubts``."""
    return statement_text(fit_statement(answer, robot, sheet, look, more), width)


def fit_statement(
    answer: Fit, robot: str, sheet: str, look: Sequence[str] = (), more: Sequence[Section] = ()
) -> Statement:
    """The answer as a statement. ``more`` are sections that come last, such as which further tests would help."""
    found = []
    if look:
        found.append(Section(tr("Look at this first"), (Points(tuple(map(_sentence, look))),)))
    if answer.misfits:
        found.append(misfit_section(answer))
    found.append(Section(tr("What the tests say, and between what it may be (95 %)"), tuple(_numbers(answer))))
    jigs = [f"'{shorten(placed.jig, NAME_CELLS)}'" for placed in answer.placed if placed.jig is not None]
    read: tuple[Part, ...] = ()
    if jigs:
        words = tr_many(
            "Read as the name of a jig: {names}. --field FIELD writes their spreads into the field's file, and says "
            "which of them it lacks.",
            "Read as names of jigs: {names}. --field FIELD writes their spreads into the field's file, and says which "
            "of them it lacks.",
            len(jigs),
            names=", ".join(jigs),
        )
        read = (words,)
    for placed in answer.placed:
        last = placed is answer.placed[-1]
        found.append(Section(_placed_title(placed), (*_placed_parts(placed), *(read if last else ()))))
    if answer.squares:
        squares = tuple(map(square_words, answer.squares))
        found.append(Section(tr("Square paths driven both ways round, by the published formulas"), squares))
    if answer.squared is not None:
        found.append(Section(tr("Pushed square on a wall"), tuple(squared_parts(answer.squared))))
    if answer.drops.passed or answer.drops.failed:
        found.append(Section(tr("Drop tests (counted, not simulated)"), (drop_words(answer),)))
    if answer.outliers:
        told = rows((tr("line {line}", line=each.line), each.why) for each in answer.outliers)
        title = tr("Look at these again: they are in the numbers all the same")
        found.append(Section(title, (Table((tr("line"), tr("why")), told),)))
    return Statement(
        name=tr("{robot}: how accurately it drives", robot=shorten(robot, 40)),
        title=tr("{robot}: how accurately it drives, by {sheet}", robot=shorten(robot, 40), sheet=shorten(sheet, 60)),
        about=(counted(answer),),
        headline=fit_headline(answer),
        sections=(*found, *more),
        advice=tuple(_advice(answer)),
        closing=(tr("Few tests tell little: it is the width between the two ends that says how little."),),
    )


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}." if words[0] != "'" else f"{words}."


_TOLD_WAYS = {
    "bias.distance": (tr_later("it drives {value} too far"), tr_later("it drives {value} too short")),
    "bias.veer": (tr_later("it veers {value} to the left"), tr_later("it veers {value} to the right")),
    "bias.turn": (tr_later("it turns {value} too far"), tr_later("it turns {value} too little")),
    "bias.turn_left": (
        tr_later("it turns {value} too far to the left"),
        tr_later("it turns {value} too little to the left"),
    ),
    "bias.turn_right": (
        tr_later("it turns {value} too far to the right"),
        tr_later("it turns {value} too little to the right"),
    ),
    "bias.stop": (tr_later("its straights stop {value} too late"), tr_later("its straights stop {value} too early")),
    "bias.turn_stop": (tr_later("its turns stop {value} too late"), tr_later("its turns stop {value} too early")),
    "bias.gyro_scale": (
        tr_later("its gyro reads turns {value} too large"),
        tr_later("its gyro reads turns {value} too small"),
    ),
    "bias.backlash": (
        tr_later("going back it loses {value} to play in the gears"),
        tr_later("going back it goes {value} farther"),
    ),
    "bias.kick": (
        tr_later("going back the caster turns it {value} to the left"),
        tr_later("going back the caster turns it {value} to the right"),
    ),
}


# The same where the interval holds both signs: nobody knows which way it goes.
_OPEN = {
    "bias.distance": tr_later("its distances"),
    "bias.veer": tr_later("its veer"),
    "bias.turn": tr_later("its turns"),
    "bias.turn_left": tr_later("its turns to the left"),
    "bias.turn_right": tr_later("its turns to the right"),
    "bias.stop": tr_later("where its straights stop"),
    "bias.turn_stop": tr_later("where its turns stop"),
    "bias.gyro_scale": tr_later("the scale of its gyro"),
    "bias.backlash": tr_later("play in its gears"),
    "bias.kick": tr_later("what its caster does when it goes back"),
}


def fit_headline(answer: Fit) -> str:
    """What it does the same way every time, and what of that cannot be told from nothing."""
    told, unsure = [], []
    for each in answer.estimates:
        if each.name in _OPEN and each.low <= 0 <= each.high and each.low < each.high:
            unsure.append(tr(_OPEN[each.name]))
        elif each.name in _TOLD_WAYS:
            scale, decimals, unit = form_of(each)
            size = tr("{value} {unit}", value=fixed(abs(scale * each.value), decimals), unit=tr(unit))
            told.append(tr(_TOLD_WAYS[each.name][each.value < 0], value=size))
    sure = [tr("The same way every time: {ways}.", ways=", ".join(told))] if told else []
    if unsure:
        # Not told from none: in the forecast it is what it most likely is.
        sure.append(tr("With these tests not to be told from none: {ways}.", ways=listed(unsure)))
    if sure:
        return " ".join(sure)
    if answer.tests:
        return tr("What it does the same way every time is not known from these tests.")
    return tr("The sheet has no test.")


def _numbers(answer: Fit) -> Iterator[Part]:
    heads = (tr("number"), tr("value"), tr("between (95 %)"), tr("by"))
    if not answer.estimates:
        if answer.tests:
            yield tr("nothing: the sheet has no test that was driven")
        else:
            yield tr("nothing: the sheet has no test")
    for group, means in MEANS.items():
        mine = [each for each in answer.estimates if each.name.startswith(f"{group}.")]
        if mine:
            yield tr(means)
            yield Table(heads, rows(estimate_row(each, number_name(each.name), group == "day") for each in mine))
        if group == "bias":
            yield from _typed(answer)
            yield from _perhaps(answer)
    yield from grows_parts(answer)
    if answer.tape is not None:
        yield tr("the tape (how it is held and read, beyond its own steps)")
        yield Table(heads, rows([estimate_row(answer.tape, tr("tape"))]))
    walk = walk_words(answer)
    if walk:
        yield walk
    looked = looked_words(answer)
    if looked:
        yield looked


def _typed(answer: Fit) -> Iterator[str]:
    """What to type, where it is not what is wanted."""
    told = {(each.kind, each.wanted): fixed(each.type, 1) for each in answer.typed}
    straights = [each for each in answer.typed if each.kind == "straight"]
    if any(fixed(each.type, 1) != fixed(each.wanted, 1) for each in straights):
        yield tr(
            "Straights: type {short} for 300 mm, {long} for 1000 mm.",
            short=told["straight", 300.0],
            long=told["straight", 1000.0],
        )
    turns = [each for each in answer.typed if each.kind == "turn"]
    if len(turns) == 2 and any(fixed(each.type, 1) != fixed(each.wanted, 1) for each in turns):
        yield tr(
            "Turns: type {left} for 90 left, {right} for 90 right.",
            left=told["turn", 90.0],
            right=fixed(-next(each.type for each in turns if each.wanted < 0), 1),
        )


def _perhaps(answer: Fit) -> Iterator[str]:
    """What is the same every time and not told from nought."""
    if answer.perhaps:
        names = [
            tr("'{name}' ({ends} {unit})", name=number_name(each.name), ends=_to(each), unit=tr(form_of(each)[2]))
            for each in answer.perhaps
        ]
        yield tr(
            "Not told apart from the others by these tests, and left out: {names}. "
            "Robots that fit the tests may have it.",
            names=listed(names),
        )


def walk_words(answer: Fit) -> str:
    """What 'per root metre' and 'per root quarter turn' mean, if there is such a number; else nothing."""
    units = {form_of(each)[2].partition(" per ")[2] for each in answer.estimates}
    words = []
    if "root metre" in units:
        words.append(tr("Per root metre: as much over 1 metre, twice as much over 4 metres, three times over 9."))
    if "root quarter turn" in units:
        words.append(tr("Per root quarter turn: as much on 90 degrees, twice as much on 360."))
    return " ".join(words)


def _placed_title(placed: Placed) -> str:
    if placed.jig:
        return tr("Put down in {jig} (give or take)", jig=shorten(placed.jig, NAME_CELLS))
    return tr("Put down by eye (give or take)")


_PARTS = {"along": tr_later("along"), "across": tr_later("across"), "heading": tr_later("heading")}


def _placed_parts(placed: Placed) -> Iterator[Part]:
    if not placed.spread:
        yield tr("one placing tells no spread: put it down again and again")
        return
    heads = (tr("number"), tr("value"), tr("between (95 %)"), tr("by"))
    yield Table(heads, rows(estimate_row(each, tr(_PARTS[each.name])) for each in placed.spread))
    for off in placed.off:
        if off.low > 0 or off.high < 0:
            scale, decimals, unit = form_of(off)
            yield tr(
                _WAYS[off.name][off.value < 0],
                size=fixed(abs(scale * off.value), decimals),
                unit=tr(unit),
                ends=_to(off),
            )
    found = placed.repeatability
    if found is None:
        return
    accuracy, repeatability = fixed(found.accuracy, 1), fixed(found.repeatability, 1)
    if found.angle_repeatability is None:
        yield tr(
            "as ISO 9283 has it: accuracy {accuracy} mm (how far the mean of all placings is from its place), "
            "repeatability {repeatability} mm (nearly all placings are nearer than that to their mean)",
            accuracy=accuracy,
            repeatability=repeatability,
        )
    else:
        yield tr(
            "as ISO 9283 has it: accuracy {accuracy} mm (how far the mean of all placings is from its place), "
            "repeatability {repeatability} mm (nearly all placings are nearer than that to their mean), of the "
            "heading plus or minus {turned} degrees",
            accuracy=accuracy,
            repeatability=repeatability,
            turned=fixed(found.angle_repeatability, 2),
        )


def _to(each: Estimate) -> str:
    decimals = form_of(each)[1]
    low, high = rounded_outwards(each.name, each.low, each.high)
    return tr("{low} to {high}", low=fixed(low, decimals), high=fixed(high, decimals))


_WAYS = {
    "along": (
        tr_later(
            "on average it stands {size} {unit} too far forward ({ends}): no spread, but a place that is not where the"
            " field file has it. Measure again where the jig stands, or shift it there."
        ),
        tr_later(
            "on average it stands {size} {unit} too far back ({ends}): no spread, but a place that is not where the "
            "field file has it. Measure again where the jig stands, or shift it there."
        ),
    ),
    "across": (
        tr_later(
            "on average it stands {size} {unit} too far left ({ends}): no spread, but a place that is not where the "
            "field file has it. Measure again where the jig stands, or shift it there."
        ),
        tr_later(
            "on average it stands {size} {unit} too far right ({ends}): no spread, but a place that is not where the "
            "field file has it. Measure again where the jig stands, or shift it there."
        ),
    ),
    "heading": (
        tr_later(
            "on average it stands {size} {unit} turned left ({ends}): no spread, but a place that is not where the "
            "field file has it. Measure again where the jig stands, or shift it there."
        ),
        tr_later(
            "on average it stands {size} {unit} turned right ({ends}): no spread, but a place that is not where the "
            "field file has it. Measure again where the jig stands, or shift it there."
        ),
    ),
}


def square_words(square: SquarePathAnswer) -> str:
    """What the published formulas say of square paths, in one sentence or two."""
    mean = square.mean
    worse = max(square.cw, square.ccw, key=lambda way: way.distance)
    turn, veer = fixed(abs(100 * mean.turn), 2), fixed(abs(mean.veer), 2)
    turns = tr("turns {turn} % too far", turn=turn) if mean.turn > 0 else tr("turns {turn} % too little", turn=turn)
    if mean.veer > 0:
        bends = tr("bends {veer} degrees per metre to the left", veer=veer)
    else:
        bends = tr("bends {veer} degrees per metre to the right", veer=veer)
    words = tr(
        "sides of {side:g} mm: {turns}, {bends}. Driven {direction}, the worse way round, the middle of where it ends "
        "is {merit} mm from where it began",
        side=square.side,
        turns=turns,
        bends=bends,
        direction=worse.direction,
        merit=fixed(square.merit, 1),
    )
    if square.again is None:
        return tr("{square}. Drive each way round more than once to see how much of that is chance.", square=words)
    if square.again:
        return tr("{square}: that is more than chance.", square=words)
    return tr("{square}: that may be chance.", square=words)


def squared_parts(found: Squared) -> Iterator[str]:
    """What tests of pushing square tell beside the numbers of the accuracy block."""
    if found.capture is not None:
        low, high = rounded_outwards("square.capture", found.capture.low, found.capture.high)
        yield tr(
            "{caught} of {tests} swung flat: one in two from about {angle} degrees off (between {low} and {high}). "
            "Write a capture of {low} or less into squares of your runs",
            caught=found.caught,
            tests=found.tests,
            angle=fixed(found.capture.value, 0),
            low=fixed(low, 0),
            high=fixed(high, 0),
        )
    elif found.caught == found.tests:
        yield tr(
            "all {tests} swung flat, from up to {angle} degrees off",
            tests=found.tests,
            angle=spoken(found.farthest),
        )
    else:
        yield tr("none of {tests} swung flat: try from nearer to square", tests=found.tests)
    yield squared_words(found)


def squared_words(found: Squared) -> str:
    """What the corner that touches first does, in a sentence or two."""
    if found.slides is None:
        return tr("nothing was measured along the wall: mark where the corner touches, and where it ends")
    low, high = rounded_outwards("square.corner", found.slides.low, found.slides.high)
    told = {
        "slides": tr("the corner that touches first slides along the wall"),
        "sticks": tr("the corner that touches first sticks where it touched"),
        None: tr(
            "these tests do not tell whether the corner that touches first sticks or slides, and robots that fit them "
            "may do either: push on from a larger angle, more often"
        ),
    }
    return tr(
        "{what} ({value} % of the way that rolling wheels make; between {low} and {high} %)",
        what=told[found.corner],
        value=fixed(100 * found.slides.value, 0),
        low=fixed(low, 0),
        high=fixed(high, 0),
    )


def drop_words(answer: Fit) -> str:
    """How many drop tests held, and what came off."""
    drops = answer.drops
    total = drops.passed + drops.failed
    names = [
        tr("{name} ({times} times)", name=shorten(what, NAME_CELLS), times=n) if n > 1 else shorten(what, NAME_CELLS)
        for what, n in drops.came_off
    ]
    if names:
        off = ", ".join(names)
        return tr("{held} of {total} held; what came off: {names}", held=drops.passed, total=total, names=off)
    return tr("{held} of {total} held", held=drops.passed, total=total)


def _advice(answer: Fit) -> Iterator[str]:
    for words in _grouped(answer.unknown):
        yield _sentence(words)
    wide = [each for each in answer.estimates if each.value > 0 and (each.high - each.low) > 2 * each.value]
    if wide:
        worst = max(wide, key=lambda each: (each.high - each.low) / each.value)
        yield tr(
            "Least is known of {number}. Whether that matters depends on the run: --plan RUN says which few tests "
            "would help it most.",
            number=number_name(worst.name),
        )
    elif answer.estimates and not answer.unknown:
        yield tr("Write it into the robot's file with --write, and look at a run with try.")
    if not answer.estimates:
        yield tr("Drive a straight of 300 mm and one of 1000 mm, and turns of 90 and 360 degrees, a few times each.")


def _grouped(unknown: Sequence[str]) -> Iterator[str]:
    """The same with all numbers that cannot be told apart in one item."""
    # How ``fit`` says it of two of them, between their names and what would help.
    cannot = tr("{names} cannot be told apart by these tests: {how}", names="", how="")
    pairs = [words for words in unknown if cannot in words]
    helps: dict[str, list[str]] = {}
    for words in pairs:
        names, _, how = words.partition(cannot)
        helps.setdefault(how, []).append(names)
    for words in unknown:
        if words not in pairs or len(pairs) == 1:
            yield words
        elif words == pairs[0]:
            listed = "; ".join(f"{', '.join(names)} ({how})" for how, names in helps.items())
            yield tr("some numbers cannot be told apart by these tests: {names}", names=listed)
