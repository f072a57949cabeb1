"""Where the robot stands against something: at its start, and after a contact that was meant."""

from __future__ import annotations

from collections.abc import Mapping
from math import inf
from typing import NamedTuple

import numpy as np

from fieldsim.model import Run, Square
from fieldsim.sim.kernel.course import AGAINST, INSIDE, PRESSED, Pairs, Rests, Wheels
from fieldsim.sim.kernel.path import S, T
from fieldsim.sim.kernel.shapes import Floats, Shapes
from fieldsim.sim.kernel.sweep import Pose, push_out, standing
from fieldsim.sim.kernel.trial import survey
from fieldsim.sim.path import pose_of
from fieldsim.sim.shapes import Solid

__all__ = ["FLUSH", "OVERLAP", "gap_before", "meant_contacts", "rests_of", "things_near"]

# A planned pose may overlap what stands there by this much, mm: what numbers written to a hundredth do to a flush
# start.
OVERLAP = 0.01


# A planned gap up to this, mm, is none: the robot is pushed against what stands there, and that guides it as it leaves.
# Nobody aims for less, and a file with tenths of a millimetre tells the two apart.
FLUSH = 0.05


# Two ways to measure a gap agree far closer than this, mm.
SURELY = 1e-6


# The product of two unit directions that are opposite within 10 degrees.
OPPOSITE = -0.98


def gap_before(parts: Shapes, cores: Shapes, pairs: Pairs, number: int, at: Pose) -> float:
    """The gap to a thing at a pose, mm; how deep the robot stands in it, if it does, is told as a negative gap."""
    return min((contact.gap for contact in contacts(parts, cores, pairs, number, at)), default=inf)


class Contact(NamedTuple):
    """A part of the robot and a core of a thing, both at rest."""

    gap: float
    """mm; negative by how deep the one stands in the other."""
    x: float
    """The way that the robot is pushed, field frame, a unit long; 0 if it is more than ``FLUSH`` away."""
    y: float


def contacts(parts: Shapes, cores: Shapes, pairs: Pairs, number: int, at: Pose) -> list[Contact]:
    """Each pair of a thing, at a pose."""
    found = []
    for q in range(pairs.first[number], pairs.first[number + 1]):
        part, core = parts.outline(pairs.part[q]), cores.outline(pairs.core[q])
        radius = float(cores.radius[pairs.core[q]])
        apart = standing(part, core, at) - radius
        if apart > FLUSH:
            found.append(Contact(apart, 0.0, 0.0))
        else:
            deep, x, y = push_out(part, core, radius, at)
            found.append(Contact(apart if apart > 0 else -deep, x, y))
    return found


def meant_contacts(run: Run) -> list[frozenset[str]]:
    """What each segment may touch: what it says, and what it is pushed flat on."""
    return [
        frozenset(getattr(segment, "may_touch", ())) | ({segment.against} if isinstance(segment, Square) else set())
        for segment in run.segments
    ]


def things_near(
    parts: Shapes, cores: Shapes, pairs: Pairs, path: Floats, pieces: list[int]
) -> dict[int, frozenset[int]]:
    """The things that the robot touches, or nearly, where each of these pieces begins: all measured at one go, so that
    what is far need not be looked at one by one."""
    owner = np.repeat(np.arange(len(pairs.first) - 1), np.diff(pairs.first))
    still = path[pieces]
    still[:, [S, T]] = 0.0
    many = len(pieces)
    gap, _ = survey(
        parts,
        cores,
        still,
        np.repeat(np.arange(many), len(owner)),
        np.tile(pairs.part, many),
        np.tile(pairs.core, many),
    )
    close = gap.reshape(many, len(owner)) <= FLUSH + SURELY
    return {piece: frozenset(owner[row].tolist()) for piece, row in zip(pieces, close, strict=True)}


def wedged_between(near: Mapping[int, list[Contact]]) -> frozenset[int]:
    """The things that a robot stands between with no room: pushed against the one it would stand in the other.

    Two that push it almost opposite ways; between others it can be drawn out.
    """
    touched = [(number, c.x, c.y) for number, contacts in near.items() for c in contacts if c.gap <= FLUSH]
    return frozenset(a for a, ax, ay in touched for _, bx, by in touched if ax * bx + ay * by < OPPOSITE)


def rests_of(
    run: Run,
    wheels: Wheels,
    body: Shapes,
    cores: Shapes,
    pairs: Pairs,
    things: tuple[Solid, ...],
    path: Floats,
) -> Rests:
    """Where the robot stands against something: at the start, and after a contact that was meant. Where the planned
    start stands in something it touches it, however a trial's start is drawn."""
    allowed = meant_contacts(run)
    end = len(wheels.left)

    def gap_at(number: int, piece: int) -> float:
        """The gap where a planned piece begins, if it is next to none; where nothing is driven any more there is none
        to ask."""
        if piece == 0 and number in start:
            return min(contact.gap for contact in start[number])
        return gap_before(body, cores, pairs, number, pose_of(path[piece])) if number in near[piece] else inf

    squared = {int(wheels.piece[g + 1]) for g, segment in enumerate(run.segments) if isinstance(segment, Square)}
    near = {end: frozenset[int]()} | things_near(body, cores, pairs, path, sorted(({0} | squared) - {end}))
    at = pose_of(path[0])
    start = {number: contacts(body, cores, pairs, number, at) for number in near[0]}
    wedged = wedged_between(start) if end else frozenset()
    found: list[tuple[int, int, int, int, bool]] = []
    somewhere = frozenset[int]().union(*near.values())
    touched = frozenset[str]().union(*allowed)
    for number, thing in enumerate(things):
        if number not in somewhere and thing.name not in touched:
            continue
        meant = [g for g, names in enumerate(allowed) if thing.name in names]
        begins: list[tuple[int, int]] = []
        gap = gap_at(number, 0)
        if 0 not in meant and gap < -OVERLAP:
            begins.append((0, INSIDE))
        elif 0 not in meant and gap <= FLUSH and number not in wedged:
            begins.append((0, AGAINST))
        for g in meant:
            if g + 1 not in meant:
                pressed = thing.name in getattr(run.segments[g], "may_touch", ())
                begins.append((int(wheels.piece[g + 1]), PRESSED if pressed else AGAINST))
        # What else the robot stands against once it is flat on a wall: a corner of the field, say.
        for g, segment in enumerate(run.segments):
            after = int(wheels.piece[g + 1])
            if isinstance(segment, Square) and g not in meant and abs(gap_at(number, after)) <= FLUSH:
                begins.append((after, AGAINST))
        for piece, how in sorted(begins):
            later = [int(wheels.piece[g]) for g in meant if wheels.piece[g] >= piece]
            until = min(later, default=end)
            if piece < until:
                found.append((number, piece, until, how, piece == 0 and how == AGAINST))
    counts = np.bincount([rest[0] for rest in found], minlength=len(things)) if found else np.zeros(len(things))
    return Rests(
        first=np.concatenate([[0], np.cumsum(counts)]).astype(np.int64),
        obstacle=np.array([rest[0] for rest in found], dtype=np.int64),
        piece=np.array([rest[1] for rest in found], dtype=np.int64),
        until=np.array([rest[2] for rest in found], dtype=np.int64),
        how=np.array([rest[3] for rest in found], dtype=np.int64),
        set_back=np.array([rest[4] for rest in found], dtype=np.int64),
    )
