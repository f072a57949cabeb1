"""From what is asked for and what was proposed to a scene: everything the window shows of it, as plain data."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from fieldsim.language import tr, tr_many
from fieldsim.model import Run, StartByEye, Wait
from fieldsim.model.errors import FieldsimError, shown
from fieldsim.model.field import StartArea
from fieldsim.sim.motion import start_pose
from fieldsim.sim.shapes import footprint
from fieldsim.sim.ways import Way
from fieldsim.window.asking import answers_of
from fieldsim.window.keys import PROPOSAL_KEYS, help_rows
from fieldsim.window.paint.layout import Strip, layout
from fieldsim.window.paint.scene import ErrorWords, Scene
from fieldsim.window.proposals.session import ROWS, ProposalsLayout, ProposalsSession
from fieldsim.window.season.view import NOBODY

__all__ = ["ProposalsScene", "ProposalsView", "TileView"]

_NO_STRIP = Strip((), (0.0,))


@dataclass(frozen=True)
class TileView:
    """A proposal in the list."""

    title: str
    words: str
    share: tuple[float, float, float]
    picked: bool


@dataclass(frozen=True)
class Mark:
    """Something on the map that was chosen: its place, how large it is, mm, and what is written beside it."""

    at: tuple[float, float]
    within: float
    words: str


@dataclass(frozen=True, eq=False)
class ProposalsScene:
    layout: ProposalsLayout
    dark: bool
    title: str
    map: Scene
    driven: bool
    """Whether the map shows a proposal, or only where it would start."""
    targets: tuple[Mark, ...]
    """The chosen targets, in their order."""
    other_targets: tuple[tuple[float, float], ...]
    """Those that can be chosen besides."""
    start: Mark | None
    finish: StartArea | None
    rows: tuple[tuple[str, str, bool], ...]
    """Label, what is chosen, and whether there is anything else to choose."""
    row_at: int
    ask: str
    """What the button does."""
    ask_on: bool
    going: float | None
    """How far it is, from 0 to 1."""
    headline: str
    further: tuple[str, ...]
    wrong: tuple[str, ...]
    tiles: tuple[TileView, ...]
    take: str | None
    hover: str | None = None
    toast: str = ""
    help: tuple[tuple[str, str], ...] = ()
    error: ErrorWords | None = None


class ProposalsView:
    """Scenes of one session."""

    def __init__(self, session: ProposalsSession) -> None:
        self.session = session

    def scene(self) -> ProposalsScene:
        session = self.session
        wish, found, field = session.wish, session.found, session.field
        chosen = () if wish is None else wish.targets
        where = {target.name: target for target in field.targets}
        jig = None if wish is None else next((each for each in field.jigs if each.name == wish.start), None)
        proposals = () if found is None else found.proposals
        return ProposalsScene(
            layout=session.places,
            dark=session.dark,
            title=tr("{field}: let runs be proposed", field=shown(field.name, 80)),
            map=self._map(),
            driven=session.proposal is not None,
            targets=tuple(
                Mark(where[name].at, where[name].within, str(number) if len(chosen) > 1 else "")
                for number, name in enumerate(chosen, start=1)
                if name in where
            ),
            other_targets=tuple(target.at for target in field.targets if target.name not in chosen),
            start=None if jig is None else Mark(jig.corner, 0.0, ""),
            finish=None if wish is None else next((a for a in field.start_areas if a.name == wish.finish), None),
            rows=tuple((tr(label), session.told(row), len(session.options(row)) > 1) for row, label in ROWS.items()),
            row_at=session.row_at,
            ask=tr("break off") if session.searching else tr("look for ways"),
            ask_on=session.searching or (wish is not None and wish.enough),
            going=found.done / found.wanted if found is not None and session.searching and found.wanted else
            0.0 if session.searching else None,
            headline=self._headline(),
            further=() if found is None else found.further,
            wrong=() if found is None else found.wrong,
            tiles=tuple(
                TileView(each.title, each.words, each.share, each is session.proposal) for each in proposals
            ),
            take=tr("take this way over as a run") if proposals else None,
            hover=session.hover,
            toast=session.toast,
            help=help_rows(PROPOSAL_KEYS) if session.help else (),
            error=None if session.over is None else ErrorWords(*session.over, answers_of(session.asking)),
        )  # fmt: skip

    def _headline(self) -> str:
        session = self.session
        found = session.found
        if session.wish is None:
            return tr("There is no robot in this season: make one first")
        if found is None:
            targets = len(session.wish.targets)
            if not session.wish.enough:
                return tr("Click a jig to start from, then a target to go to.")
            return tr_many("From here to {n} target.", "From here to {n} targets.", targets) if targets else ""
        if not found.over:
            return tr("looking for ways")
        return found.headline

    def _map(self) -> Scene:
        """The field with the proposal that is shown, or with the robot where it would start."""
        session = self.session
        places = replace(layout((640, 400)), size=session.places.size, unit=session.places.unit)
        places = replace(places, field=session.places.field)
        proposal, wish = session.proposal, session.wish
        if proposal is not None:
            run, way, parts, cloud = proposal.run, proposal.way, proposal.parts, proposal.cloud
        else:
            run, cloud = self._standing(), None
            parts = footprint(run.robot, run.wear)
            # It stands where it would start.
            way = Way((np.array([start_pose(run)], dtype=float),), (np.zeros(1),))
        pose = way.start if proposal is None and wish is not None and wish.start is not None else None
        return Scene(
            run=run, parts=parts, layout=places,
            camera=session.camera, way=way, strip=_NO_STRIP, dark=session.dark, cloud=cloud, pose=pose,
        )  # fmt: skip

    def _standing(self) -> Run:
        session = self.session
        wish, field = session.wish, session.field
        middle = StartByEye((field.size[0] / 2, field.size[1] / 2), 0.0)
        if wish is None:
            return Run(field.name, field, NOBODY, middle, (Wait(0.0),))
        names = {jig.name for jig in field.jigs}
        start = wish.start if wish.start in names else middle
        try:
            return Run(field.name, field, wish.robot, start if start is not None else middle, (Wait(0.0),), wish.wear)
        except FieldsimError:
            return Run(field.name, field, NOBODY, middle, (Wait(0.0),))
