"""Where a point goes that is set by hand on a field: to what is near it, or to the grid."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fieldsim.model import Field, Point
from fieldsim.window.field.state import SNAP, SNAPS
from fieldsim.window.snapping import SnappedPoint, snap_point

if TYPE_CHECKING:
    from fieldsim.window.field.session import FieldSession

__all__ = ["grid_step", "guided", "snap_reach", "snapped", "snapping_on"]


def grid_step(session: FieldSession) -> float | None:
    return SNAPS[session.snap][1]


def snapping_on(session: FieldSession, free: bool) -> bool:
    return not free and session.snap != len(SNAPS) - 1


def snap_reach(session: FieldSession) -> float:
    return SNAP * session.places.unit / session.camera.zoom


def guided(session: FieldSession, found: SnappedPoint) -> SnappedPoint:
    session.guides, session.guide_words = found.guides, found.words
    return found


def snapped(
    session: FieldSession, point: Point, free: bool, base: Field | None = None, beside: tuple[Point, ...] = ()
) -> SnappedPoint:
    base, beside = base or session.field, beside or session.draft
    return guided(
        session,
        snap_point(
            point, base, snap_reach(session), on=snapping_on(session, free), grid=grid_step(session), beside=beside
        ),
    )
