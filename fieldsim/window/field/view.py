"""From a field's session to a scene: everything that the window shows of it, as plain data."""

from __future__ import annotations

from math import atan2, degrees
from typing import Any

from fieldsim.language import tr, tr_later, tr_many
from fieldsim.model import Body, Box, Drive, Field, Line, Outline, Robot, Run, StartByEye, Wait
from fieldsim.model.errors import shown as harmless
from fieldsim.report.phrases import spoken
from fieldsim.sim.shapes import footprint
from fieldsim.sim.ways import Way
from fieldsim.window import listing
from fieldsim.window.asking import answers_of
from fieldsim.window.field import edits as field_edits
from fieldsim.window.field import grips
from fieldsim.window.field import things as field_things
from fieldsim.window.field.session import FieldSession
from fieldsim.window.field.state import DRAWN, LAYING, said
from fieldsim.window.field.things import WALLS_HANDLE, Handle
from fieldsim.window.keys import FIELD_KEYS, help_rows
from fieldsim.window.paint.layout import Strip
from fieldsim.window.paint.scene import ErrorWords, FieldScene, Grip, Guide, Here, Mat, NumberRow, Numbers, SwitchRow

__all__ = ["FieldView"]

# A run that stands on the field and is not shown: the ground is painted by the code that paints it under a run.
_NOBODY = Robot("nobody", Body(100.0, 100.0, 50.0), Drive(80.0, 60.0))
_PARTS = footprint(_NOBODY, ())
# Sides of boxes shorter than this, units, show no grip of their own.
CROWDED = 44.0
_NOWHERE = Way((), ())
_NO_STRIP = Strip((), (0.0,))

_HOW = {
    "box": (
        tr_later("Press at one corner and drag to the opposite one."),
        tr_later("One click puts down a box of 100 mm."),
    ),
    "round": (
        tr_later("Press at its middle and drag to its edge."),
        tr_later("One click puts down a round of 100 mm."),
    ),
    "outline": (
        tr_later("Click corner after corner."),
        tr_later("Click the first one again, or press enter, to close it. Delete takes the last corner back."),
    ),
    "start area": (
        tr_later("Press at one corner and drag to the opposite one."),
        tr_later("Runs start here, and come home to it."),
    ),
    "jig": (
        tr_later("Press where a corner of the robot is pushed home, and drag the way the robot looks."),
        tr_later("One click sets it with the robot looking away from you."),
    ),
    "line": (tr_later("Press at one end and drag to the other."), tr_later("The robot's light sensors can see it.")),
    "target": (
        tr_later("Press where a tool has to come to, and drag as far as it may be off."),
        tr_later("One click gives or takes 15 mm."),
    ),
    "picture": (
        tr_later("Drag the picture to where the mat lies."),
        tr_later("Its size is set best with k: from a known length."),
    ),
    "scale": (
        tr_later(
            "Click two points of the picture that you know the distance of, the farther apart the "
            "better. The wheel brings you nearer."
        ),
        tr_later("Then type the distance: 1140, or 2.36 m. The first point stays where it is."),
    ),
}


class FieldView:
    """Scenes of one session. ``surface`` is the picture of the mat, as it was loaded, or None."""

    def __init__(self, session: FieldSession, surface: Any = None) -> None:
        self.session = session
        self.surface = surface
        self._run: Run | None = None
        self._mat: Mat | None = None

    def scene(self) -> FieldScene:
        session = self.session
        place = session.place
        chosen = None if session.chosen is None else (place.kind, place.index)
        words = session.guide_words
        laying = session.tool in LAYING
        return FieldScene(
            run=self._standing(session.field),
            parts=_PARTS,
            layout=session.places,
            camera=session.camera,
            way=_NOWHERE,
            strip=_NO_STRIP,
            dark=session.dark,
            numbers=self._numbers(),
            menu=listing.words_of(session),
            tip=(session.tip, session._pointer) if session.tip else None,
            switches=tuple(SwitchRow(label, harmless(value), on) for label, value, on in session.switches),
            # The words stand on one of them only.
            guides=tuple(Guide(g.start, g.end, words if n == 0 else "") for n, g in enumerate(session.guides)),
            mat=self._laid(),
            title=tr(
                "{field}: {x} x {y} mm",
                field=harmless(session.field.name),
                x=spoken(session.field.size[0]),
                y=spoken(session.field.size[1]),
            ),
            changed=session.unsaved,
            off=self._off(),
            hover=session.hover,
            toast=session.toast,
            help=help_rows(FIELD_KEYS) if session.help else (),
            error=None if session.over is None else ErrorWords(*session.over, answers_of(session.asking)),
            tool=session.tool,
            here=self._here(),
            grips=self._grips() if session.chosen is not None and not laying else (),
            chosen=None if laying else chosen,
            also=() if laying else tuple((each.kind, each.index) for each in session.others),
            draft=session.draft + ((session.spot,) if session.draft and session.spot is not None else ()),
            known=session.known,
            known_words=tr("{distance} mm", distance=spoken(round(session.apart, 1)))
            if len(session.known) == 2
            else "",
            spot=session.spot,
            pointer=session.pointer,
            measure=self._measure(),
            laying=laying and self.surface is not None,
        )

    def _standing(self, field: Field) -> Run:
        if self._run is None or self._run.field is not field:
            middle = (field.size[0] / 2, field.size[1] / 2)
            self._run = Run(field.name, field, _NOBODY, StartByEye(middle, 0.0), (Wait(0.0),))
        return self._run

    def _laid(self) -> Mat | None:
        """The picture where it lies; the same object as long as it lies there."""
        picture = self.session.field.picture
        if picture is None or self.surface is None:
            return None
        mat = self._mat
        if mat is None or (mat.surface, mat.corner, mat.width) != (self.surface, picture.corner, picture.width):
            self._mat = Mat(self.surface, picture.corner, picture.width)
        return self._mat

    def _measure(self) -> tuple[str, tuple[float, float]] | None:
        session = self.session
        words = session.measure
        if not session.guides and session.guide_words and session.guide_words != words:
            # A turn that snapped has no line to write it on.
            words = f"{words}, {session.guide_words}" if words and "degrees" not in session.guide_words else words
        return (words, session.pointer) if words and session.pointer is not None else None

    def _grips(self) -> tuple[Grip, ...]:
        session = self.session
        chosen = session.chosen
        assert chosen is not None
        found = []
        for handle, at in grips.handles_of(session.field, chosen.whole, session.arm):
            if handle.part == "whole" and handle.kind != "walls":
                continue
            hot = handle in (session.hot, chosen)
            if handle.part.startswith("edge") and not hot and self._crowded(chosen):
                continue
            found.append(_grip(session.field, handle, at, hot))
        return tuple(found)

    def _crowded(self, chosen: Handle) -> bool:
        """Whether a box is too small on the screen for grips on its sides too."""
        shape = getattr(field_things.thing_at(self.session.field, chosen), "shape", None)
        room = CROWDED * self.session.places.unit / self.session.camera.zoom
        return isinstance(shape, Box) and min(shape.size) < room

    def _numbers(self) -> Numbers:
        session = self.session
        place = session.place
        if session.tool in LAYING:
            picture = session.field.picture
            title = tr("the picture") if session.tool == "picture" else tr("the picture's size")
            note = "" if picture is None else harmless(picture.file)
        elif place.kind == "walls":
            title = tr("the field")
            note = (
                tr("inside its walls") if session.field.walls is not None else tr("an open board: its edge is a drop")
            )
        else:
            title, note = harmless(field_things.thing_at(session.field, place).name), self._kind_of(place)
        rows = []
        lines = session.lines
        for number, line in enumerate(lines[session.first_row :], start=session.first_row):
            entry = session.entry if session.entry is not None and session.entry.line == number else None
            here = number == session.row
            open_end = line.text == "" and line.key in ("height.high", "walls.high")
            rows.append(
                NumberRow(
                    label=f"\N{BLACK RIGHT-POINTING SMALL TRIANGLE} {line.label}" if here else line.label,
                    value=entry.text if entry is not None else tr("any") if open_end else line.text,
                    unit=line.unit,
                    wrong=entry is not None and entry.wrong,
                    cursor=entry.cursor if entry is not None else None,
                    fresh=entry is not None and entry.fresh,
                    wide=line.key == "name",
                )
            )
        return Numbers(title, note, tuple(rows))

    def _kind_of(self, place: Handle) -> str:
        thing = field_things.thing_at(self.session.field, place)
        shape = getattr(thing, "shape", None)
        if shape is None:
            return said(place.kind)
        word = field_edits.choices_of(self.session.field, place)[0].value
        if place.part.startswith("corner"):
            return tr(
                "corner {number} of {n}; e: the next one",
                number=int(place.part.removeprefix("corner ")) + 1,
                n=len(shape.points),
            )
        return f"{said(place.kind)}: {said(str(word))}"

    def _here(self) -> Here:
        session = self.session
        field = session.field
        counts = (
            ("box", tr_many("{n} obstacle", "{n} obstacles", len(field.obstacles))),
            ("start area", tr_many("{n} start area", "{n} start areas", len(field.start_areas))),
            ("jig", tr_many("{n} jig", "{n} jigs", len(field.jigs))),
            ("line", tr_many("{n} line", "{n} lines", len(field.lines))),
            ("target", tr_many("{n} target", "{n} targets", len(field.targets))),
        )
        if session.tool in _HOW:
            lead = tr("draw: {tool}", tool=said(session.tool)) if session.tool in DRAWN else tr("lay the picture")
            return Here(counts, lead, tuple(map(tr, _HOW[session.tool])))
        return Here(counts, tr("next"), self._next())

    def _next(self) -> tuple[str, ...]:
        session = self.session
        field = session.field
        if session.chosen is not None and session.chosen != WALLS_HANDLE:
            return (
                tr("Drag it to move it, and its grips to change it. Type its numbers and its name below."),
                tr("Click beside it to let it go."),
            )
        found = []
        nothing = next(field_things.things(field), None) is None
        if nothing:
            found.append(tr("Measure your field inside its walls and type its size below."))
        if field.picture is None and nothing:
            found.append(tr("Is there a picture of the mat? Drop it on this window, or press p."))
        if not field.obstacles:
            found.append(tr("Draw what stands on the field: take 'box' below and drag."))
        elif not field.start_areas:
            found.append(tr("Draw the start area: press 4 and drag."))
        elif not field.jigs:
            found.append(tr("Set a jig, where the robot is pushed home before it starts: press 5."))
        elif not field.targets:
            found.append(tr("Set targets where tools have to come to: press 7."))
        elif session.unsaved:
            found.append(tr("All that a run needs is here. Save it: ctrl s."))
        else:
            found.append(tr("All that a run needs is here. Name this field in a run, and watch that run."))
        if not nothing:
            found.append(tr("Click a thing to change it."))
        return tuple(found)

    def _off(self) -> frozenset[str]:
        session = self.session
        off = set()
        if session.history.undo_words is None:
            off.add("undo")
        if session.history.redo_words is None:
            off.add("redo")
        if not session.unsaved:
            off.add("save")
        if session.chosen is None or session.chosen.kind == "walls":
            off |= {"tool copy", "tool remove"}
        if session.field.picture is None:
            off.add("tool scale")
        return frozenset(off)


def _grip(field: Field, handle: Handle, at: tuple[float, float], hot: bool) -> Grip:
    part, _, name = handle.part.partition(" ")
    if handle.kind == "walls":
        heading = {"right": 0.0, "far": 90.0}.get(handle.part)
        return Grip("corner", at, hot=hot) if heading is None else Grip("edge", at, heading, hot)
    thing = field_things.thing_at(field, handle)
    shape = getattr(thing, "shape", None)
    if part == "turn":
        heading = shape.heading if isinstance(shape, Box) else getattr(thing, "heading", 0.0)
        return Grip("turn", at, heading or 0.0, hot)
    if part == "edge" and isinstance(shape, Box):
        return Grip("edge", at, shape.heading + {"e": 0.0, "n": 90.0, "w": 180.0, "s": 270.0}[name], hot)
    if part == "width" and isinstance(thing, Line):
        x, y = grips.place_of(field, handle.whole)
        # Across the line.
        return Grip("edge", at, degrees(atan2(at[1] - y, at[0] - x)), hot)
    if part in ("start", "end"):
        return Grip("end", at, hot=hot)
    if part == "corner":
        return Grip("end" if isinstance(shape, Outline) else "corner", at, hot=hot)
    return Grip("edge", at, 0.0, hot)
