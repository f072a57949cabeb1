"""A run that is being changed: its free numbers, what was put in and taken out, and the changes one by one.

A draft knows of each of its segments which one of the run as written it was. So what differs can be told as a list of
changes to that run, and any part of the list can be driven by itself.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

from fieldsim.model import Act, Alignment, Arc, Run, Segment, StartByEye, Straight, Turn
from fieldsim.model.errors import FieldsimError
from fieldsim.planning.numbers import Step
from fieldsim.sim.motion import wrapped

__all__ = ["Draft", "Edit", "Free", "applied", "draft_of", "edits", "free_numbers", "unseen"]

# Speeds are typed in steps of so many mm/s and degrees/s.
SPEED_STEP, TURN_SPEED_STEP = 10.0, 5.0
# A number is changed by no more than so much, or this share of it: beyond that it is another run, and nobody knows what
# the old one was for. mm and degrees.
FARTHEST, SHARE = {"distance": 80.0, "radius": 80.0, "x": 80.0, "y": 80.0, "angle": 15.0, "heading": 15.0}, 0.25
# A reach is no number that a drive is set by: it is changed in steps of so many mm.
REACH_STEP = 10.0

Where = int | Literal["start"]


@dataclass(frozen=True)
class Free:
    """A number that may be changed: of a segment of the draft, by its index, or of a start by eye."""

    where: Where
    key: str
    """'distance', 'angle', 'radius', 'reach', 'speed', 'turn_speed'; of a start 'x', 'y', 'heading'."""
    size: float
    """The step it is typed in."""


@dataclass(frozen=True)
class Draft:
    """A run, the run as written, and of each segment the index it has there; None for one that was put in."""

    run: Run
    origins: tuple[int | None, ...]
    written: Run

    def value(self, free: Free) -> float:
        if free.where == "start":
            start = self.run.start
            assert isinstance(start, StartByEye)
            return start.heading if free.key == "heading" else start.at[0 if free.key == "x" else 1]
        segment = self.run.segments[free.where]
        value = getattr(segment, free.key)
        if value is None:
            # A speed that the robot's own stands for.
            drive = self.run.robot.drive
            value = drive.turn_speed if free.key == "turn_speed" else drive.speed
        return float(value)

    def moved(self, free: Free, steps: float) -> Draft | None:
        """The draft with a number so many steps larger; None where no such number can be typed. Numbers lie on the
        lattice of their steps, whatever they were before."""
        value = round(round(self.value(free) / free.size + steps) * free.size, 3)
        if free.where == "start" and free.key == "heading":
            value = wrapped(value)
        return self.with_value(free, value)

    def with_value(self, free: Free, value: float) -> Draft | None:
        before = self.value(free)
        if value == before or not self._near(free, value):
            return None
        # A number that comes to nothing or turns round is another run.
        if free.key in ("distance", "angle", "radius", "reach", "speed", "turn_speed") and value * before <= 0:
            return None
        try:
            if free.where == "start":
                start = self.run.start
                assert isinstance(start, StartByEye)
                if free.key == "heading":
                    start = replace(start, heading=value)
                else:
                    x, y = start.at
                    start = replace(start, at=(value, y) if free.key == "x" else (x, value))
                return replace(self, run=replace(self.run, start=start))
            segments = list(self.run.segments)
            segments[free.where] = replace(segments[free.where], **{free.key: value})  # type: ignore[arg-type]
            return replace(self, run=replace(self.run, segments=tuple(segments)))
        except (FieldsimError, ValueError):
            return None

    def _near(self, free: Free, value: float) -> bool:
        """Whether it is still about what was written."""
        if free.key not in FARTHEST:
            return True
        written = self.written
        origin = None if free.where == "start" else self.origins[free.where]
        if free.where == "start":
            was = Draft(written, (), written).value(free)
            off = abs(wrapped(value - was)) if free.key == "heading" else abs(value - was)
            return off <= FARTHEST[free.key]
        if origin is None:
            return True
        was = getattr(written.segments[origin], free.key)
        most = max(FARTHEST[free.key], SHARE * abs(was)) if free.key != "angle" else FARTHEST["angle"]
        return bool(abs(value - was) <= most)

    def put(self, at: int, segments: tuple[Segment, ...]) -> Draft:
        """With segments put in before the one of that index."""
        run, origins = self.run, self.origins
        return replace(
            self,
            run=replace(run, segments=(*run.segments[:at], *segments, *run.segments[at:])),
            origins=(*origins[:at], *(None for _ in segments), *origins[at:]),
        )

    def without(self, at: Collection[int]) -> Draft | None:
        """Without some of its segments; None if none would be left."""
        kept = [index for index in range(len(self.origins)) if index not in at]
        if not kept:
            return None
        return replace(
            self,
            run=replace(self.run, segments=tuple(self.run.segments[index] for index in kept)),
            origins=tuple(self.origins[index] for index in kept),
        )


def draft_of(run: Run) -> Draft:
    """The run as written."""
    return Draft(run, tuple(range(len(run.segments))), run)


def free_numbers(
    draft: Draft, step: Step, *, keep: Collection[int] = (), speeds: bool = False, reaches: Collection[int] = ()
) -> Iterator[Free]:
    """The numbers that may be changed. ``keep`` are segments of the run as written (indices) that stay as they are,
    -1 the start; ``reaches`` those whose reach is asked about."""
    if isinstance(draft.run.start, StartByEye) and -1 not in keep:
        yield Free("start", "x", step.mm)
        yield Free("start", "y", step.mm)
        yield Free("start", "heading", step.degrees)
    for index, (segment, origin) in enumerate(zip(draft.run.segments, draft.origins, strict=True)):
        if origin is not None and origin in keep:
            continue
        if isinstance(segment, Straight):
            yield Free(index, "distance", step.mm)
        elif isinstance(segment, Turn):
            yield Free(index, "angle", step.degrees)
        elif isinstance(segment, Arc):
            yield Free(index, "angle", step.degrees)
            yield Free(index, "radius", step.mm)
        elif isinstance(segment, Alignment) and origin in reaches:
            yield Free(index, "reach", max(REACH_STEP, step.mm))
        if speeds and isinstance(segment, Turn):
            yield Free(index, "turn_speed", TURN_SPEED_STEP)
        elif speeds and isinstance(segment, Straight | Arc | Alignment):
            yield Free(index, "speed", SPEED_STEP)


def unseen(run: Run) -> frozenset[int]:
    """Segments that stay as they are because the plan does not say what they are for: those that push on something
    meant to be touched, and where the run has no finish what comes after its last act."""
    pushing = {
        index
        for index, segment in enumerate(run.segments)
        if isinstance(segment, Straight | Turn | Arc) and segment.may_touch
    }
    acts = [index for index, segment in enumerate(run.segments) if isinstance(segment, Act)]
    after = range(acts[-1] + 1, len(run.segments)) if acts and run.finish is None else ()
    return frozenset(pushing) | frozenset(after)


# --- what differs --------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Edit:
    """One change to the run as written. ``segment`` is the index there: of the one that is changed or taken out, or
    before which ``put`` is put in; -1 is the start."""

    segment: int
    key: str
    """The number's attribute, 'put in' or 'taken out'."""
    was: float | None = None
    now: float | None = None
    put: tuple[Segment, ...] = ()


def edits(run: Run, draft: Draft) -> tuple[Edit, ...]:
    """What differs between the run as written and the draft, from the start on."""
    found: list[Edit] = []
    old, new = run.start, draft.run.start
    if isinstance(old, StartByEye) and isinstance(new, StartByEye) and old != new:
        found += [
            Edit(-1, key, was, now)
            for key, was, now in (
                ("x", old.at[0], new.at[0]), ("y", old.at[1], new.at[1]), ("heading", old.heading, new.heading),
            )
            if was != now
        ]  # fmt: skip
    at = {origin: index for index, origin in enumerate(draft.origins) if origin is not None}
    before: list[Segment] = []
    puts: dict[int, tuple[Segment, ...]] = {}
    for segment, origin in zip(draft.run.segments, draft.origins, strict=True):
        if origin is None:
            before.append(segment)
        else:
            if before:
                puts[origin] = tuple(before)
            before = []
    if before:
        puts[len(run.segments)] = tuple(before)
    for index, segment in enumerate(run.segments):
        if index in puts:
            found.append(Edit(index, "put in", put=puts[index]))
        if index not in at:
            found.append(Edit(index, "taken out"))
            continue
        other = draft.run.segments[at[index]]
        if other != segment:
            for key in ("distance", "angle", "radius", "reach", "speed", "turn_speed"):
                was, now = getattr(segment, key, None), getattr(other, key, None)
                if was != now:
                    drive = run.robot.drive
                    own = {"speed": drive.speed, "turn_speed": drive.turn_speed}.get(key)
                    found.append(Edit(index, key, own if was is None else was, now))
    if len(run.segments) in puts:
        found.append(Edit(len(run.segments), "put in", put=puts[len(run.segments)]))
    return tuple(found)


def applied(run: Run, some: Iterable[Edit]) -> Draft:
    """The run as written with some of the changes. Raises ValueError where they do not go together without the
    others."""
    some = list(some)
    start = run.start
    numbers = {(each.segment, each.key): each.now for each in some if each.key not in ("put in", "taken out")}
    taken = {each.segment for each in some if each.key == "taken out"}
    puts = {each.segment: each.put for each in some if each.key == "put in"}
    if isinstance(start, StartByEye):
        x, y, h = (
            numbers.get((-1, key), was)
            for key, was in zip(("x", "y", "heading"), (*start.at, start.heading), strict=True)
        )
        assert x is not None
        assert y is not None
        assert h is not None
        start = replace(start, at=(x, y), heading=h)
    segments: list[Segment] = []
    origins: list[int | None] = []
    for index in range(len(run.segments) + 1):
        put = puts.get(index, ())
        segments += put
        origins += [None] * len(put)
        if index == len(run.segments) or index in taken:
            continue
        segment = run.segments[index]
        own = {key: value for (at, key), value in numbers.items() if at == index}
        segments.append(replace(segment, **own) if own else segment)  # type: ignore[arg-type]
        origins.append(index)
    return Draft(replace(run, start=start, segments=tuple(segments)), tuple(origins), run)
