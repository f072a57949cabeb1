"""The compiled kernel: where it is, how it is loaded, and what may be handed to it.

The C side (folder ``c``) trusts what it is told. So whatever is handed over goes through ``array`` or ``packed`` here,
where kind, shape and order of every array are checked, and that no index in it points past another's end. ctypes lets
go of the interpreter's lock for each call: blocks of trials run side by side in a thread pool.
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from ctypes import POINTER, Structure, c_double, c_int, c_int64, c_uint64, c_void_p
from functools import cache
from pathlib import Path
from threading import Lock
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fieldsim.sim.kernel.build import COMPILE, SOURCES, library_name, source_mark
from fieldsim.sim.kernel.course import AGAINST, INSIDE, Alignments, Course, Moves, Reference, Wheels
from fieldsim.sim.kernel.shapes import Shapes


class KernelMissingError(ImportError):
    """The compiled part is not there."""


FOLDER = Path(__file__).parent


@cache
def _loaded() -> tuple[ctypes.CDLL, str]:
    """The library, and the end of its functions' names that fits this processor."""
    path = FOLDER / library_name()
    if not path.exists():
        raise KernelMissingError(
            f"the compiled part of fieldsim is missing: there is no {path.name} in {path.parent}. Install fieldsim "
            f"with pip, which compiles it; in a folder of its source run: {COMPILE}"
        )
    library = ctypes.CDLL(str(path))
    library.fs_variant.restype = library.fs_source.restype = ctypes.c_char_p
    if SOURCES.exists() and library.fs_source().decode() != source_mark():
        raise KernelMissingError(
            f"the compiled part of fieldsim, {path.name} in {path.parent}, was made from other sources than those "
            f"beside it. In the folder of the source run: {COMPILE}"
        )
    return library, library.fs_variant().decode()


@cache
def function(name: str, result: Any, *arguments: Any) -> Callable[..., Any]:
    """A function of the library, in the form for this processor."""
    library, variant = _loaded()
    found = getattr(library, f"fs_{name}{variant}")
    found.restype = result
    found.argtypes = arguments
    return found  # type: ignore[no-any-return]


def worked(status: int) -> int:
    """What a function returned that needs memory."""
    if status < 0:
        raise MemoryError("there is not enough memory for the trials")
    return status


_NUMBERS: dict[type, np.dtype[Any]] = {
    kind: np.dtype(kind) for kind in (np.float64, np.int64, np.uint64, np.uint8, np.bool_)
}


def _fits(found: tuple[int, ...], shape: tuple[int | None, ...]) -> bool:
    if len(found) != len(shape):
        return False
    for seen, wanted in zip(found, shape, strict=True):  # noqa: SIM110 - a hundred of these stand in each plan
        if wanted is not None and seen != wanted:
            return False
    return True


def array(value: NDArray[Any], kind: type, *shape: int | None) -> int:
    """The address of an array, checked: its kind of numbers, its order in memory, its shape (None for any length).

    Raises ValueError if it is another. The caller keeps the array alive.
    """
    if (
        not isinstance(value, np.ndarray)
        or (value.dtype is not _NUMBERS[kind] and value.dtype != kind)
        or not (value.flags.c_contiguous and value.flags.aligned)
        or (value.shape != shape and not _fits(value.shape, shape))
    ):
        seen_as = f"{value.dtype} {value.shape}" if isinstance(value, np.ndarray) else type(value).__name__
        raise ValueError(f"the kernel was handed {seen_as}, not a plain array of {np.dtype(kind)} {shape}")
    return int(value.__array_interface__["data"][0])


def floats(value: NDArray[np.float64], *shape: int | None) -> int:
    return array(value, np.float64, *shape)


def ints(value: NDArray[np.int64], *shape: int | None) -> int:
    return array(value, np.int64, *shape)


def within(values: NDArray[np.int64], low: int, end: int, what: str) -> None:
    """Raises ValueError if a number is below ``low`` or not below ``end``."""
    # What is below becomes larger than any end, so one look at the largest tells both.
    if values.size and int((values - low).view(np.uint64).max()) >= end - low:
        raise ValueError(f"{what} of a plan is not from {low} to {end - 1}")


def stretches(first: NDArray[np.int64], end: int, what: str) -> None:
    """Raises ValueError if the numbers do not rise from 0 to ``end``."""
    numbers = first.tolist()
    if not numbers or numbers[0] != 0 or numbers[-1] != end or numbers != sorted(numbers):
        raise ValueError(f"{what} of a plan do not follow each other from 0 to {end}")


def _record(name: str, *members: tuple[str, Any]) -> type[Structure]:
    return type(name, (Structure,), {"_fields_": list(members)})


def _pointers(*names: str) -> list[tuple[str, Any]]:
    return [(name, c_void_p) for name in names]


# The records of course.h, field for field.
PackedShapes = _record("PackedShapes", *_pointers("corner", "start", "radius", "reach"), ("count", c_int64))
_Wheels = _record(
    "_Wheels",
    *_pointers("left", "right", "piece", "ahead"),
    ("track", c_double),
    *_pointers(
        "bias", "day", "term", "row", "along", "turn", "always", "over", "start", "held", "spread", "turns",
        "gyro", "seconds", "seconds_row",
    ),
    ("pieces", c_int64),
    ("segments", c_int64),
)  # fmt: skip
_Alignments = _record("_Alignments", *_pointers("of", "what", "how", "hull", "edge"), ("count", c_int64))
_Entries = _record("_Entries", *_pointers("first", "gap", "what", "best"))
_Reference = _record("_Reference", *_pointers(*Reference._fields))
_Rests = _record("_Rests", *_pointers("first", "obstacle", "piece", "until", "how", "set_back"), ("count", c_int64))
_Pairs = _record("_Pairs", *_pointers("first", "part", "core"))
_Moves = _record(
    "_Moves",
    *_pointers("what", "how", "obstacle", "aligned"),
    ("start", c_int64),
    ("solid", c_int64),
    ("count", c_int64),
)
_Course = _record(
    "_Course",
    ("wheels", _Wheels), ("alignments", _Alignments), ("parts", PackedShapes), ("frame", c_void_p),
    ("cores", PackedShapes), ("entries", _Entries), ("reference", _Reference),
    ("rests", _Rests), ("pairs", _Pairs), ("moves", _Moves), ("horizon", c_double), ("obstacles", c_int64),
)  # fmt: skip
_Results = _record(
    "_Results",
    *_pointers("column", "stray"),
    ("columns", c_int64),
    *_pointers("clearance", "tightest", "ribbon", "poses", "contact", "place", "counted", "endings"),
)

# And those of match.h.
PackedRules = _record(
    "PackedRules",
    ("limit", c_double), *_pointers("change", "rescue"), ("rescue_points", c_double), ("finish", c_double),
    *_pointers("points", "target", "needs", "needed", "finishes"), ("runs", c_int64), ("acts", c_int64),
)  # fmt: skip
PackedDrawn = _record(
    "PackedDrawn",
    *_pointers("seconds", "begins", "ends", "hit", "through", "home", "out", "change", "rescue"),
    ("matches", c_int64),
    ("tries", c_int64),
)
PackedChances = _record(
    "PackedChances",
    *_pointers("start", "done", "home", "first", "last", "share"),
    ("runs", c_int64), ("tries", c_int64), ("acts", c_int64), ("ends", c_int64), ("cells", c_int64),
    ("times", c_int64),
)  # fmt: skip
PackedChoices = _record(
    "PackedChoices", *_pointers("first", "run", "attempt", "points", "finish", "leads", "before", "out")
)

RULES, DRAWN, CHANCES, CHOICES = map(POINTER, (PackedRules, PackedDrawn, PackedChances, PackedChoices))
COURSE = POINTER(_Course)
RESULTS = POINTER(_Results)
SHAPES = POINTER(PackedShapes)
SIZE, NUMBER, ARRAY, UNSIGNED, STATUS = c_int64, c_double, c_void_p, c_uint64, c_int


def results(**members: int) -> Any:
    return _Results(**members)


class Packed(NamedTuple):
    """A course as the C side reads it."""

    record: Any
    rows: int
    """Rows of drawn numbers it takes."""
    course: object
    """What the record points into: kept alive."""


def packed_shapes(shapes: Shapes) -> Any:
    """Shapes as the C side reads them, checked once while they are the same."""
    found = _SHAPES.get(id(shapes))
    if found is not None:
        return found.record
    return _keep(_SHAPES, id(shapes), Packed(_packed_shapes(shapes), 0, shapes)).record


def _packed_shapes(shapes: Shapes) -> Any:
    count = len(shapes.radius)
    stretches(shapes.start, len(shapes.corner), "corners of shapes")
    if count and int(np.diff(shapes.start).min()) < 1:
        raise ValueError("a shape of a plan has no corners")
    return PackedShapes(
        floats(shapes.corner, None, 5), ints(shapes.start, count + 1), floats(shapes.radius, count),
        floats(shapes.reach, count), count,
    )  # fmt: skip


def packed_path(wheels: Wheels, alignments: Alignments, reference: Reference, moves: Moves | None) -> Packed:
    """What it takes to drive, without anything to be met; without ``moves`` all stands where it was drawn."""
    record = _Course()
    rows = _driving(record, wheels, alignments, reference)
    if moves is not None:
        rows = max(rows, _moves(record, moves, len(moves.obstacle), len(alignments.what)))
    return Packed(record, rows, (wheels, alignments, reference, moves))


# A few courses as they were packed last: one is driven block after block. A course is never written into.
_LAST: dict[int, Packed] = {}
# And what they may meet, which courses that differ in their wheels alone share: a study moves the start many times.
_MET: dict[tuple[int, ...], Packed] = {}
# How it is driven, but for what a robot's bias and the seconds of a plan change in it: a plan is driven perfectly, then
# with the bias, then measured.
_COMMANDED: dict[tuple[int, ...], Packed] = {}
# A field's shapes, and a robot's.
_SHAPES: dict[int, Packed] = {}
_KEPT = 16
_KEEPING = Lock()


def packed(course: Course) -> Packed:
    """A course for the C side, checked once.

    Raises ValueError if an array has another kind or shape than it should, or points past the end of another.
    """
    found = _LAST.get(id(course))
    if found is not None and found.course is course:
        return found
    met = _met(course)
    record = _Course.from_buffer_copy(met.record)
    rows = _driving(record, course.wheels, course.alignments, course.reference)
    rows = max(rows, _moves(record, course.moves, len(course.pairs.first) - 1, len(course.alignments.what)))
    return _keep(_LAST, id(course), Packed(record, rows, course))


def _keep(kept: dict[Any, Packed], key: Any, value: Packed) -> Packed:
    with _KEEPING:
        kept[key] = value
        while len(kept) > _KEPT:
            del kept[next(iter(kept))]
    return value


def _met(course: Course) -> Packed:
    """A record of all but the wheels."""
    members = (course.parts, course.cores, course.frame, course.pairs, course.entries, course.rests)
    pieces, segments = len(course.wheels.left), len(course.wheels.piece) - 1
    key = (*map(id, members), hash(course.horizon), pieces, segments)
    found = _MET.get(key)
    if found is not None:  # what it was made of is kept with it, so that no id is another's
        return found
    record = _Course()
    obstacles = len(course.pairs.first) - 1
    record.obstacles, record.horizon = obstacles, course.horizon
    record.parts, record.cores = map(packed_shapes, (course.parts, course.cores))
    parts, cores = len(course.parts.radius), len(course.cores.radius)
    record.frame = ints(course.frame, pieces)
    pairs = course.pairs
    many = len(pairs.part)
    record.pairs = _Pairs(ints(pairs.first, obstacles + 1), ints(pairs.part, many), ints(pairs.core, many))
    stretches(pairs.first, many, "pairs")
    within(pairs.core, 0, cores, "a core")
    within(course.frame, 0, max(parts, 1), "a frame")
    if many:
        within(pairs.part, 0, parts - int(course.frame.max(initial=0)), "a part")
    _entries(record, course, pieces, segments, parts, cores, obstacles)
    rests = course.rests
    count = len(rests.piece)
    record.rests = _Rests(
        ints(rests.first, obstacles + 1), ints(rests.obstacle, count), ints(rests.piece, count),
        ints(rests.until, count), ints(rests.how, count), ints(rests.set_back, count), count,
    )  # fmt: skip
    stretches(rests.first, count, "rests")
    within(rests.obstacle, 0, obstacles, "what is rested against")
    within(rests.piece, 0, pieces, "the first piece of a rest")
    within(rests.until, 0, pieces + 1, "the last piece of a rest")
    within(rests.how, AGAINST, INSIDE + 1, "how a robot rests")
    return _keep(_MET, key, Packed(record, 0, members))


def _driving(record: Any, wheels: Wheels, alignments: Alignments, reference: Reference) -> int:
    """How it is driven, put into a record; how many rows of drawn numbers it takes."""
    same = _commanded(wheels, alignments)
    pieces, segments = len(wheels.left), len(wheels.piece) - 1
    record.wheels, record.alignments = same.record.wheels, same.record.alignments
    mine = record.wheels
    mine.track = wheels.track
    mine.bias, mine.day = floats(wheels.bias, 3), floats(wheels.day, 3)
    mine.always, mine.over = floats(wheels.always, pieces, 2), floats(wheels.over, segments)
    mine.gyro, mine.seconds = floats(wheels.gyro, 4), floats(wheels.seconds, segments, 2)
    record.reference = _Reference(*(floats(values, pieces) for values in reference))
    return max(same.rows, 8 if wheels.gyro[2] else 6)


def _commanded(wheels: Wheels, alignments: Alignments) -> Packed:
    """A record of what is the same however a robot is biased."""
    w = wheels
    members = (
        w.left, w.right, w.piece, w.ahead, w.term, w.row, w.along, w.turn, w.start, w.held, w.spread, w.turns,
        w.seconds_row, *alignments,
    )  # fmt: skip
    key = tuple(map(id, members))
    found = _COMMANDED.get(key)
    if found is not None:
        return found
    record = _Course()
    pieces, segments, terms = len(wheels.left), len(wheels.piece) - 1, len(wheels.row)
    record.wheels = _Wheels(
        left=floats(w.left, pieces), right=floats(w.right, pieces), piece=ints(w.piece, segments + 1),
        ahead=floats(w.ahead, pieces), term=ints(w.term, pieces + 1), row=ints(w.row, terms),
        along=floats(w.along, terms), turn=floats(w.turn, terms), start=floats(w.start, 3), held=floats(w.held, 2),
        spread=floats(w.spread, 3), turns=ints(w.turns, segments), seconds_row=ints(w.seconds_row, segments),
        pieces=pieces, segments=segments,
    )  # fmt: skip
    stretches(wheels.piece, pieces, "pieces")
    stretches(wheels.term, terms, "terms")
    count = len(alignments.what)
    record.alignments = _Alignments(
        ints(alignments.of, segments), ints(alignments.what, count, 9), floats(alignments.how, count, 14),
        floats(alignments.hull, None, 5), floats(alignments.edge, None, 5), count,
    )  # fmt: skip
    within(alignments.of, -1, count, "an alignment")
    rows = 0
    for which in (wheels.row, wheels.seconds_row):
        within(which, -1 if which is wheels.seconds_row else 0, 2**31, "a row of drawn numbers")
        rows = max(rows, int(which.max(initial=0)) + 1)
    for g, m in enumerate(alignments.of.tolist()):
        if m < 0:
            continue
        align, approach, hull, hull_end, edge, edge_end, row, passes, _ = alignments.what[m].tolist()
        after = 1 + passes if align == 0 else 2 * passes - 1 if align == 1 else 0
        if not (
            0 <= align <= 2
            and passes >= 1
            and approach >= 0
            and approach + after == wheels.piece[g + 1] - wheels.piece[g]
            and 0 <= hull <= hull_end <= len(alignments.hull)
            and 0 <= edge <= edge_end <= len(alignments.edge)
            and row >= 0
        ):
            raise ValueError("an alignment of a plan does not fit its pieces, hull or edges")
        rows = max(rows, row + (2 if align == 0 else 2 + 2 * passes))
    return _keep(_COMMANDED, key, Packed(record, rows, members))


def _moves(record: Any, moves: Moves, obstacles: int, alignments: int) -> int:
    count = len(moves.what)
    record.moves = _Moves(
        ints(moves.what, count, 2), floats(moves.how, count, 5), ints(moves.obstacle, obstacles),
        ints(moves.aligned, alignments), moves.start, moves.solid, count,
    )  # fmt: skip
    within(moves.what[:, 0], 0, 2**31, "a row of drawn numbers")
    if count and not (moves.what[:, 1] < np.arange(count)).all():
        raise ValueError("what carries a thing of a plan comes after it")
    within(moves.what[:, 1], -1, count, "what carries a thing")
    within(np.array([moves.solid]), 0, count + 1, "how many things are solid")
    within(moves.obstacle, -1, moves.solid, "what moves an obstacle")
    within(moves.aligned, -1, count, "what moves a line")
    within(np.array([moves.start]), -1, count, "what carries the start")
    return int(moves.what[:, 0].max(initial=-3)) + 3


def _entries(record: Any, course: Course, pieces: int, segments: int, parts: int, cores: int, obstacles: int) -> None:
    entries = course.entries
    count = len(entries.gap)
    record.entries = _Entries(
        ints(entries.first, segments + 1), floats(entries.gap, count), ints(entries.what, count, 8),
        ints(entries.best, obstacles),
    )  # fmt: skip
    stretches(entries.first, count, "entries")
    within(entries.best, -1, count, "an entry")
    _, part, core, _, _, kind, i, j = entries.what.T
    # All at one go; what is below 0 is larger than any end.
    most = entries.what[:, :6].view(np.uint64).max(axis=0, initial=0).tolist()
    ends = (pieces, parts, cores, obstacles, segments, 8)
    names = ("piece", "part", "core", "obstacle", "segment", "kind")
    for largest, end, name in zip(most, ends, names, strict=True):
        if count and largest >= end:
            raise ValueError(f"an entry's {name} of a plan is not from 0 to {end - 1}")
    # A kind that names no corner of a shape may have any number there.
    corners = np.where((kind > 1) & (kind < 6), np.diff(course.parts.start)[part], np.iinfo(np.int64).max)
    sides = np.where((kind > 0) & (kind < 7), np.diff(course.cores.start)[core], np.iinfo(np.int64).max)
    if ((i < 0) | (j < 0) | (i >= corners) | (j >= sides)).any():
        raise ValueError("an entry of a plan names a corner that is not there")
