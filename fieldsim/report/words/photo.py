"""The answer of ``fieldsim photo`` in words."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from fieldsim.language import tr, tr_later, tr_many
from fieldsim.lettering import shorten
from fieldsim.report.phrases import fixed, listed, signed
from fieldsim.report.statement import Points, Section, Statement, Table, rows

if TYPE_CHECKING:
    from fieldsim.photo.answer import PhotoAnswer, PhotoFilm, PhotoPicture, Spoiler

TITLE_CELLS = 40
FILE_CELLS = 32

# What spoils a picture: the words, and what to do about it. {marker}, {amount}.
_SPOILS = {
    "no markers": (
        tr_later("no marker is seen in it"),
        tr_later("nearer, more light, the sheets flat and whole with their white rim"),
    ),
    "no field marker": (
        tr_later("no marker of the field is seen in it"),
        tr_later("take the field's corners into the picture, too"),
    ),
    "no robot marker": (
        tr_later("the robot's marker is not seen in it"),
        tr_later("lay it flat on top of the robot, and nothing over it"),
    ),
    "few": (
        tr_later("only {amount} of the field's markers are seen in it"),
        tr_later("with three or four the picture tells its own errors"),
    ),
    "cut off": (
        tr_later("marker {marker} is cut off by the picture's edge"),
        tr_later("step back until all markers are whole"),
    ),
    "blurred": (
        tr_later("marker {marker} is blurred: its edges are {amount} pixels wide"),
        tr_later("hold still, tap on the robot to focus, more light"),
    ),
    "glare": (
        tr_later("marker {marker} has glare on it"),
        tr_later("step aside or shade the lamp; do not laminate markers"),
    ),
    "hidden": (
        tr_later("marker {marker} is not found where it ought to be"),
        tr_later("look whether something lies over it or shades it"),
    ),
    "twice": (
        tr_later("marker {marker} is seen twice"),
        tr_later("take the second sheet away"),
    ),
    "moved": (
        tr_later("marker {marker} was moved by {amount} mm between the pictures; it is left out"),
        tr_later("tape the sheets down"),
    ),
    "misplaced": (
        tr_later("marker {marker} lies {amount} mm from where the field's file says"),
        tr_later("measure its place again and mend the file"),
    ),
    "doubtful": (
        tr_later("marker {marker} may be the one that does not fit"),
        tr_later("look at each of these before anything else"),
    ),
    "size": (
        tr_later("marker {marker} seems to be {amount} mm large, not what the file says"),
        tr_later("measure its black square and mend the file"),
    ),
    "height wrong": (
        tr_later("the robot's marker seems to be {amount} mm high, not what the file says"),
        tr_later("measure from the mat to the sheet"),
    ),
    "height": (
        tr_later("the height of the robot's marker is not told; it seems to be {amount} mm"),
        tr_later("measure it and write it as 'height' of the robot's marker: places get more exact"),
    ),
    "printed": (
        tr_later("the printer made all markers {amount} of their size"),
        tr_later("print at 100 %, and check the ruler line"),
    ),
    "flat": (
        tr_later("the camera is only {amount} degrees above the mat"),
        tr_later("hold it higher: 40 degrees or more"),
    ),
}
_DECIMALS = {"few": 0, "blurred": 0, "flat": 0}


def spoiler_words(spoiler: Spoiler) -> tuple[str, str]:
    """What spoils it, and what to do about it."""
    what, remedy = _SPOILS[spoiler.kind]
    amount = "" if spoiler.amount is None else fixed(spoiler.amount, _DECIMALS.get(spoiler.kind, 1))
    if spoiler.kind == "printed" and spoiler.amount is not None:
        amount = tr("{share} %", share=fixed(100 * spoiler.amount, 1))
    return tr(what, marker=spoiler.marker, amount=amount), tr(remedy)


def photo_statement(answer: PhotoAnswer) -> Statement:
    """The answer as a statement."""
    robot, field = (shorten(name, TITLE_CELLS) for name in (answer.robot, answer.field))
    if answer.film is not None:
        sections = [Section(tr("What it drove"), (_moves(answer.film),))] if answer.film.moves else []
        about = tr_many("a film, {n} frame", "a film, {n} frames", answer.film.frames)
    else:
        sections = [Section(tr("Where the robot stood"), (_poses(answer),))]
        about = tr_many("{n} picture", "{n} pictures", len(answer.pictures))
    spoils = list(_spoils(answer))
    if spoils:
        sections.append(Section(tr("What spoils it"), (Points(tuple(spoils)),)))
    if answer.camera is not None:
        sections.append(Section(tr("Camera and markers"), tuple(_camera(answer))))
    if answer.rows:
        title = tr("Rows for the test sheet") if answer.rows_for == "tests" else tr("Rows for the log")
        every = dict.fromkeys(column for row in answer.rows for column, _ in row.cells)
        columns = tuple(column for column in every if column not in ("test", "run", "note"))
        columns = ("test" if answer.rows_for == "tests" else "run", *columns, "note")
        told = [tuple(dict(row.cells).get(column, "") for column in columns) for row in answer.rows]
        sections.append(Section(title, (Table(columns, rows(told)),)))
    told_against = list(_against(answer))
    if told_against:
        sections.append(Section(tr("Against the forecast"), tuple(told_against)))
    return Statement(
        name=tr("{robot} in pictures", robot=robot),
        title=tr("{robot} on {field}, in pictures", robot=robot, field=field),
        about=(about,),
        headline=headline(answer),
        sections=tuple(sections),
        advice=tuple(_advice(answer)),
        closing=(
            tr(
                "Give or take is one standard deviation: two of three are nearer. It holds for flat markers and a "
                "camera with an ordinary lens; check it once with a tape."
            ),
        ),
    )


def headline(answer: PhotoAnswer) -> str:
    """The one sentence."""
    film = answer.film
    if film is not None:
        return tr_many(
            "{n} drive is seen; {told} of {frames} frames tell where the robot was, each to {mm} mm and {angle} "
            "degrees, give or take.",
            "{n} drives are seen; {told} of {frames} frames tell where the robot was, each to {mm} mm and {angle} "
            "degrees, give or take.",
            len(film.moves), told=film.told, frames=film.frames, mm=fixed(film.error, 1),
            angle=fixed(film.heading_error, 2),
        )  # fmt: skip
    placed = [each.robot for each in answer.pictures if each.robot is not None]
    if not placed:
        return tr("None of these pictures tells where the robot stood.")
    worst = max((each.x_error**2 + each.y_error**2) ** 0.5 for each in placed)
    turned = max(each.heading_error for each in placed)
    return tr_many(
        "{n} picture tells where the robot stood, to {mm} mm and {angle} degrees, give or take.",
        "{n} pictures tell where the robot stood, each to {mm} mm and {angle} degrees or better, give or take.",
        len(placed), mm=fixed(worst, 1), angle=fixed(turned, 2),
    )  # fmt: skip


def _file(name: str) -> str:
    return shorten(Path(name).name, FILE_CELLS)


def _poses(answer: PhotoAnswer) -> Table:
    def line(each: PhotoPicture) -> tuple[str, ...]:
        pose = each.robot
        if pose is None:
            return (_file(each.file), "-", "-", "-", "-")
        off = (pose.x_error**2 + pose.y_error**2) ** 0.5
        return (
            _file(each.file), fixed(pose.x, 1), fixed(pose.y, 1), fixed(pose.heading, 2),
            tr("{mm} mm, {angle} degrees", mm=fixed(off, 1), angle=fixed(pose.heading_error, 2)),
        )  # fmt: skip

    heads = (tr("picture"), tr("x mm"), tr("y mm"), tr("heading"), tr("give or take"))
    return Table(heads, rows(line(each) for each in answer.pictures), text_head=("", *heads[1:]))


def _moves(film: PhotoFilm) -> Table:
    names = {"straight": tr_later("straight on"), "turn": tr_later("turn")}
    heads = (
        tr("drive"), tr("from, s"), tr("to, s"), tr("what"), tr("ahead mm"), tr("left mm"), tr("turned left, degrees"),
    )  # fmt: skip
    told = [
        (
            str(number), fixed(each.begin, 1), fixed(each.end, 1), tr(names[each.kind]), fixed(each.ahead, 1),
            fixed(each.left, 1), fixed(each.turned, 2),
        )
        for number, each in enumerate(film.moves, 1)
    ]  # fmt: skip
    return Table(heads, rows(told), text_head=heads)


# A reading so many standard deviations off is told: of one reading that is less than 3 in 1000 by chance. Of many it is
# more: the words say of how many.
SURPRISE = 3.0
READINGS = {
    "travel": tr_later("travel"), "sideways": tr_later("sideways"), "heading": tr_later("heading"),
    "angle": tr_later("angle"), "return x": tr_later("return x"), "return y": tr_later("return y"),
}  # fmt: skip


def _against(answer: PhotoAnswer) -> Iterator[str | Table]:
    """Every reading of a filmed run against the robot's file, and which of them chance does not make."""
    told, far = [], []
    for number, row in enumerate(answer.rows, 1):
        for each in row.against:
            name = tr(READINGS[each.reading])
            told.append((str(number), name, signed(each.off, 2), signed(each.z, 1)))
            if abs(each.z) > SURPRISE:
                far.append(tr("{reading} of row {row}", reading=name, row=number))
    if not told:
        return
    if far:
        yield tr_many(
            "Of {n} reading, luck does not make this of a robot as the file has it: {which}.",
            "Of {n} readings, luck hardly makes these of a robot as the file has it: {which}.",
            len(told), which=listed(far),
        )  # fmt: skip
    else:
        yield tr("No reading is farther off than luck makes of a robot as the file has it.")
    heads = (tr("row"), tr("reading"), tr("off, mm or degrees"), tr("in its standard deviations"))
    yield Table(heads, rows(told))


def _spoils(answer: PhotoAnswer) -> Iterator[str]:
    for spoiler in answer.spoilers:
        yield tr("{what}: {remedy}.", what=_large(spoiler_words(spoiler)[0]), remedy=spoiler_words(spoiler)[1])
    for each in answer.pictures:
        for spoiler in each.spoilers:
            what, remedy = spoiler_words(spoiler)
            yield tr("{file}: {what} ({remedy}).", file=_file(each.file), what=what, remedy=remedy)


def _large(text: str) -> str:
    return text[:1].upper() + text[1:]


def _camera(answer: PhotoAnswer) -> Iterator[str | Table]:
    camera = answer.camera
    assert camera is not None
    yield tr(
        "The focal length is {focal} of the picture's long side; corners are found to {pixel} pixels.",
        focal=fixed(camera.focal, 3), pixel=fixed(camera.pixel, 2),
    )  # fmt: skip
    told = []
    for each in answer.markers:
        number = str(each.number)
        if not each.counted:
            told.append((number, tr("left out"), "", ""))
        else:
            told.append((number, fixed(each.x_off, 1), fixed(each.y_off, 1), fixed(each.turned, 1)))
    if told:
        heads = (tr("marker"), tr("off along x, mm"), tr("off along y, mm"), tr("turned, degrees"))
        yield Table(heads, rows(told))


def _advice(answer: PhotoAnswer) -> Iterator[str]:
    if answer.rows_for == "tests" and answer.rows:
        yield tr(
            "Add these rows to your test sheet, then 'fieldsim fit TESTS ROBOT'; rows read by tape may stand beside."
        )
    if answer.rows_for == "log" and answer.rows:
        yield tr("A picture of the end does not see what was touched on the way: change the row if something was.")
    if not answer.markers and not answer.placed:
        yield tr("'fieldsim card FIELD --markers --save markers.pdf' makes the sheets to print.")
