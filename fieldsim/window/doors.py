"""What is opened for what: a desk for each kind of file, for a season, and for what is laid over another window."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fieldsim.window.loop import Desk, Doors, Opening

__all__ = ["doors"]


def doors(*, seed: int = 1, threads: int | None = None) -> Doors:
    """Makes the desks that are gone to, with these for all trials."""

    def make(opening: Opening, size: tuple[int, int], scale: float) -> Desk:
        path: Path = opening.path
        more: Any = opening.more
        desk: Desk
        match opening.kind:
            case "season":
                from fieldsim.window.season.app import SeasonDesk

                desk = SeasonDesk(path, size, scale, seed=seed, missing=more)
            case "field":
                from fieldsim.window.field.app import FieldDesk

                desk = FieldDesk(path, size, scale)
            case "robot":
                from fieldsim.window.robot.app import RobotDesk

                desk = RobotDesk(path, size, scale, seed=seed, threads=threads)
            case "studies":
                from fieldsim.window.studies.app import StudiesDesk

                desk = StudiesDesk(path, size, scale)
            case "proposals":
                from fieldsim.window.proposals.app import ProposalsDesk

                desk = ProposalsDesk(path, size, scale, season=more, seed=seed, threads=threads)
            case "match":
                from fieldsim.window.match.app import MatchDesk

                desk = MatchDesk(path, size, scale, seed=seed, threads=threads)
            case _:
                from fieldsim.window.run.app import RunDesk

                desk = RunDesk(path, size, scale, seed=seed, threads=threads, new=more == "new")
        return desk

    return make
