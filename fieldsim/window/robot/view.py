"""From a robot's session to a scene: everything that the window shows of it, as plain data."""

from __future__ import annotations

from dataclasses import dataclass

from fieldsim.language import tr
from fieldsim.model import Field, Robot, Run, StartByEye, Wait
from fieldsim.model.errors import shown as harmless
from fieldsim.report.phrases import spoken
from fieldsim.sim.shapes import footprint
from fieldsim.sim.ways import Way
from fieldsim.window.asking import answers_of
from fieldsim.window.keys import ROBOT_KEYS, help_rows
from fieldsim.window.paint.layout import Strip
from fieldsim.window.paint.scene import ErrorWords, NumberRow, Numbers, Scene, SwitchRow
from fieldsim.window.robot.session import KINDS, MIDDLE, RobotSession
from fieldsim.window.robot.shape import PartOf, Spot, called

__all__ = ["RobotScene", "RobotView"]

BODY = PartOf("body")
_NOWHERE, _NO_STRIP = Way((), ()), Strip((), (0.0,))
_PLACE = Field("nowhere", (2 * MIDDLE, 2 * MIDDLE))


@dataclass(frozen=True, eq=False)
class RobotScene(Scene):
    """A robot being shaped. Its axle stands in the middle of an empty place; lengths of the robot frame are beside
    it."""

    part: PartOf = BODY
    spots: tuple[Spot, ...] = ()
    told: tuple[tuple[str, str], ...] = ()
    warnings: tuple[str, ...] = ()
    spin: float | None = None
    """Radius of the circle it sweeps on the spot, mm."""
    stands_on: tuple[tuple[float, float], ...] = ()
    odds_words: tuple[str, str] = ("", "")
    """The chosen run, and how often it gets through."""


class RobotView:
    """Scenes of one session."""

    def __init__(self, session: RobotSession) -> None:
        self.session = session
        self._run: Run | None = None

    def scene(self) -> RobotScene:
        session = self.session
        robot, answer = session.robot, session.answer
        run = self._standing(robot)
        spin = None
        if answer is not None:
            spin = next((number.value for number in answer.numbers if number.id == "spin_radius"), None)
        return RobotScene(
            run=run,
            parts=footprint(robot, run.wear),
            layout=session.places,
            camera=session.camera,
            way=_NOWHERE,
            strip=_NO_STRIP,
            dark=session.dark,
            pose=(MIDDLE, MIDDLE, 0.0),
            numbers=self._numbers(),
            switches=(
                SwitchRow(tr("part"), called(robot, session.part)),
                SwitchRow(
                    tr("run"),
                    harmless(session.runs[session.which].name) if session.runs else tr("none"),
                    len(session.runs) > 1,
                ),
            ),
            title=tr("Robot: {name}", name=harmless(robot.name)),
            changed=session.history.dirty,
            off=self._off(),
            hover=session.hover,
            toast=session.toast,
            help=help_rows(ROBOT_KEYS) if session.help else (),
            error=None if session.over is None else ErrorWords(*session.over, answers_of(session.asking)),
            part=session.part,
            spots=session.spots,
            told=session.told,
            warnings=() if answer is None else tuple(each.words for each in answer.warnings),
            spin=spin,
            stands_on=() if answer is None else answer.stands_on,
            odds_words=(harmless(session.runs[session.which].name) if session.runs else "", session.odds),
        )

    def _standing(self, robot: Robot) -> Run:
        if self._run is None or self._run.robot is not robot:
            wear = tuple(each.name for each in robot.attachments)
            self._run = Run(robot.name, _PLACE, robot, StartByEye((MIDDLE, MIDDLE), 0.0), (Wait(0.0),), wear)
        return self._run

    def _numbers(self) -> Numbers:
        session = self.session
        rows = []
        for number, dial in enumerate(session.lines[session.first_row :], start=session.first_row):
            entry = session.entry if session.entry is not None and session.entry.line == number else None
            value = "" if dial.value is None or not dial.text else spoken(round(dial.value, 6))
            label = f"\N{BLACK RIGHT-POINTING SMALL TRIANGLE} {dial.label}" if number == session.row else dial.label
            rows.append(
                NumberRow(
                    label, value if entry is None else entry.text, dial.unit, wrong=entry is not None and entry.wrong,
                    cursor=None if entry is None else entry.cursor, fresh=entry is not None and entry.fresh,
                )
            )  # fmt: skip
        return Numbers(called(session.robot, session.part), tr(KINDS[session.part.kind]), tuple(rows))

    def _off(self) -> frozenset[str]:
        session = self.session
        off = set()
        if session.history.undo_words is None:
            off.add("undo")
        if session.history.redo_words is None:
            off.add("redo")
        if not session.history.dirty:
            off.add("save")
        if session.part.kind in ("body", "drive"):
            off.add("tool remove")
        return frozenset(off)
