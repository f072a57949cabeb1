"""From a session to a scene: everything that the window shows of a run, as plain data."""

from __future__ import annotations

from math import floor
from typing import Any

import numpy as np

from fieldsim.language import in_digits, tr
from fieldsim.model import StartByEye
from fieldsim.model.errors import shown as harmless
from fieldsim.report.phrases import how_often_shortly, left_gap, near_gaps
from fieldsim.sim.ways import Way
from fieldsim.window import listing
from fieldsim.window.asking import answers_of
from fieldsim.window.keys import RUN_KEYS, help_rows
from fieldsim.window.paint.build import cloud_of
from fieldsim.window.paint.odds import columns_of, failing_kind
from fieldsim.window.paint.ribbon import Before, steady_scale
from fieldsim.window.paint.scene import (
    Cloud,
    Column,
    ErrorWords,
    Floats,
    Guide,
    Mat,
    NumberRow,
    Numbers,
    Picked,
    Scene,
    SwitchRow,
)
from fieldsim.window.run import aiming, leading, looking
from fieldsim.window.run.session import RunSession
from fieldsim.window.run.state import PACES

__all__ = ["RunView", "path_until"]


def path_until(way: Way, head: float) -> Floats:
    """The way (k, 2) of the axle's middle to a head, and no farther: what comes after a touch never was."""
    last = min(floor(head), len(way.segments) - 1)
    driven = way.segments[last][way.shares[last] <= head - last, :2]
    return np.concatenate([*(poses[:, :2] for poses in way.segments[:last]), driven, [way.pose_at(head)[:2]]])


class RunView:
    """Scenes of one session; what is made of news is kept until there are others."""

    def __init__(self, session: RunSession, mat: Mat | None = None) -> None:
        self.session = session
        self.mat = mat
        self._of: Any = None
        self._aiming = aiming.Aiming()
        self._cloud: Cloud | None = None
        self._columns: tuple[Column, ...] = ()
        self._most: float | None = None

    def scene(self) -> Scene:
        session = self.session
        run, ready = session.run, session.ready
        assert ready is not None
        fresh = self._fresh()
        near = session.close_behind
        self._remember()
        return Scene(
            run=run,
            parts=ready.parts,
            layout=session.places,
            camera=session.camera,
            way=session.way,
            strip=session.strip,
            dark=session.dark,
            head=session.head,
            pose=session.pose,
            # Trials of another plan would only mislead.
            cloud=self._cloud if near and session.picked is None else None,
            picked=self._picked(),
            pinch=session.pinch if fresh else None,
            shots=self._aiming.shots(session) if session.picked is None else (),
            flats=session.flats,
            sights=session.sights,
            columns=self._columns if near else (),
            most=self._most,
            ghost=self._ghost(),
            tip=(session.tip, session._pointer) if session.tip else None,
            odds=looking.odds_shown(session),
            troubled=session.troubled if near else (),
            touched=session.touched if near else frozenset(),
            segment=session.place + 1 if isinstance(session.place, int) else None,
            thing=session.thing if session.thing is not None else self._jig(),
            numbers=self._numbers(),
            menu=listing.words_of(session) or leading.menu_words(session),
            leads=session.leading is not None,
            stays=session.stays,
            switches=self._switches(),
            handles=session.handles,
            guides=tuple(Guide(guide.start, guide.end, session.guide_words) for guide in session.guides),
            mat=self.mat,
            title=tr(
                "{run}: {robot} on {field}",
                run=harmless(run.name),
                robot=harmless(run.robot.name),
                field=harmless(run.field.name),
            ),
            changed=session.history.dirty,
            playing=session.playing,
            pace=in_digits(f"{PACES[session.pace]:g}x"),
            clock=tr("{now:.1f} of {all:.1f} s", now=session.seconds, all=session.clock.seconds),
            axis=session.axis,
            off=self._off(),
            hover=session.hover,
            toast=session.toast,
            help=help_rows(RUN_KEYS) if session.help else (),
            error=None if session.over is None else ErrorWords(*session.over, answers_of(session.asking)),
        )

    def _fresh(self) -> bool:
        session = self.session
        return session.shown is not None and session.shown.answer is not None and session.shown.run == session.run

    def _remember(self) -> None:
        """What is drawn of the newest trials: made once for each of them."""
        shown = self.session.shown
        if shown is self._of:
            return
        self._of = shown
        self._cloud, self._columns = None, ()
        if shown is None or shown.answer is None or shown.first is None:
            return
        if shown.sample is not None:
            self._cloud = cloud_of(shown.sample, shown.first, self.session.failures)
        self._columns = columns_of(shown.answer, shown.first)
        session = self.session
        self._most = steady_scale(self._columns, self._most, not session.dragging)
        words = how_often_shortly(shown.answer.success, shown.answer.trials)
        session.kept.add(Before(shown.run, self._columns, words), session.history.steps)

    def _ghost(self) -> tuple[Column, ...]:
        """The ribbon before the last change, where it has as many segments."""
        before = looking.before_of(self.session)
        if before is None or len(before.run.segments) != len(self.session.run.segments):
            return ()
        return before.columns

    def _picked(self) -> Picked | None:
        session = self.session
        offered = leading.preview(session)
        wish, way = offered if offered is not None else (None, None)
        if wish is not None and way is not None:
            poses = np.concatenate([segment[:, :2] for segment in way.segments])
            last = way.segments[-1][-1]
            return Picked(poses, (float(last[0]), float(last[1]), float(last[2])), wish.words)
        picked = session.picked
        if picked is None:
            return None
        failure = picked.failure
        words, more = picked.words[0], picked.words[1:]
        kind, at = None, None
        if failure is not None:
            kind = failing_kind(failure.why)
            shown = session.shown
            if shown is not None and shown.first is not None:
                at = session.mark_at(shown.first, picked.number, failure)
        return Picked(
            path_until(picked.way, picked.until),
            session.pose,
            tr("trial {number}: {words}", number=picked.number + 1, words=words),
            kind,
            at,
            more,
        )

    def _jig(self) -> str | None:
        start = self.session.run.start
        return None if isinstance(start, StartByEye) or self.session.place != "start" else start

    def _numbers(self) -> Numbers | None:
        session = self.session
        run = session.run
        if session.naming is not None:
            name = session.naming
            row = NumberRow(tr("name"), name.text, cursor=name.cursor, fresh=name.fresh, wide=True)
            return Numbers(tr("Save as"), tr("enter: save, escape: not"), (row,))
        if session.thing is not None:
            return self._of_thing(session.thing)
        if session.place is None:
            return None
        if isinstance(session.place, int):
            segment = run.segments[session.place]
            title = f"{session.place + 1} {segment.in_words()}"
            note = tr("segment {number} of {n}", number=session.place + 1, n=len(run.segments))
        elif session.place == "start":
            title = tr("the start")
            note = (
                tr("set by eye")
                if isinstance(run.start, StartByEye)
                else tr("in {jig}: drag it elsewhere", jig=harmless(run.start))
            )
        else:
            title, note = harmless(run.robot.name), tr("the robot itself: saved in its own file")
        rows = []
        for number, line in enumerate(session.lines[session.first_row :], start=session.first_row):
            entry = session.entry if session.entry is not None and session.entry.line == number else None
            here = number == session.row
            rows.append(
                NumberRow(
                    label=f"\N{BLACK RIGHT-POINTING SMALL TRIANGLE} {line.label}" if here else line.label,
                    value=entry.text if entry is not None else line.text,
                    unit=line.unit,
                    wrong=entry is not None and entry.wrong,
                    cursor=entry.cursor if entry is not None else None,
                    fresh=entry is not None and entry.fresh,
                    listed=line.choice,
                )
            )
        return Numbers(title, note, tuple(rows))

    def _of_thing(self, name: str) -> Numbers:
        session = self.session
        if any(target.name == name for target in session.run.field.targets):
            return aiming.target_numbers(session, name)
        shown = session.shown
        note = tr("on the field; 'fieldsim watch FIELD' changes it")
        if self._fresh() and shown is not None and shown.answer is not None:
            gap = next((gap for gap in near_gaps(shown.answer) if gap.obstacle == name), None)
            if gap is None:
                note = tr("nothing comes nearer than {horizon:g} mm", horizon=shown.answer.horizon)
            else:
                note = tr(
                    "left in 19 of 20: {gap}, segment {segment}",
                    gap=left_gap(gap, shown.answer.horizon),
                    segment=gap.segment,
                )
        return Numbers(harmless(name), note)

    def _switches(self) -> tuple[SwitchRow, ...]:
        run = self.session.run
        start = tr("by eye") if isinstance(run.start, StartByEye) else harmless(run.start)
        wears = ", ".join(map(harmless, run.wear)) or tr("nothing")
        return (
            SwitchRow(tr("start"), start, bool(run.field.jigs)),
            SwitchRow(tr("robot"), harmless(run.robot.name), len(self.session.robots) > 1),
            SwitchRow(tr("wears"), wears, bool(run.robot.attachments)),
        )

    def _off(self) -> frozenset[str]:
        session = self.session
        off = set()
        if session.history.undo_words is None:
            off.add("undo")
        if session.history.redo_words is None:
            off.add("redo")
        if not session.history.dirty:
            off.add("save")
        if not isinstance(session.place, int):
            off |= {"copy", "remove"}
        elif len(session.run.segments) == 1:
            off.add("remove")
        return frozenset(off)
