"""The compiled kernel from outside: its numbers, its bits, and what it refuses to be handed."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import suppress
from ctypes import CDLL
from math import ulp
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from plans import run

from fieldsim.files import load_run
from fieldsim.model import Straight
from fieldsim.sim.draws import BLOCK, Draws
from fieldsim.sim.drivetrain import Stream
from fieldsim.sim.kernel import build, drive, library, sweep
from fieldsim.sim.kernel.normals import draw, functions, philox
from fieldsim.sim.kernel.trial import Scratch, run_trials
from fieldsim.sim.plan import Plan, plan

ROOT = Path(__file__).parents[2]

# --- drawn numbers ---------------------------------------------------------------------------------------------------

ONES = 0xFFFFFFFF


@pytest.mark.parametrize(
    ("counter", "key", "answer"),
    [
        ((0, 0, 0, 0), (0, 0), (0x6627E8D5, 0xE169C58D, 0xBC57AC4C, 0x9B00DBD8)),
        ((ONES,) * 4, (ONES,) * 2, (0x408F276D, 0x41C83B0E, 0xA20BC7C6, 0x6D5451FD)),
        (
            (0x243F6A88, 0x85A308D3, 0x13198A2E, 0x03707344), (0xA4093822, 0x299F31D0),
            (0xD16CFE09, 0x94FDCCEB, 0x5001E420, 0x24126EA1),
        ),
    ],
)  # fmt: skip
def test_the_generator_gives_the_published_answers(counter: Any, key: Any, answer: Any) -> None:
    """Philox 4x32-10, the known answers its authors publish with it (Random123, kat_vectors; from memory)."""
    assert philox(counter, key) == answer


def twin_philox(counter: list[int], key: list[int]) -> list[int]:
    """The generator as its paper has it: Salmon et al., Parallel random numbers: as easy as 1, 2, 3, SC11, 2011."""
    a, b, c, d = counter
    k, q = key
    for _ in range(10):
        first, second = a * 0xD2511F53, c * 0xCD9E8D57
        a, b, c, d = (second >> 32) ^ b ^ k, second & ONES, (first >> 32) ^ d ^ q, first & ONES
        k, q = (k + 0x9E3779B9) & ONES, (q + 0xBB67AE85) & ONES
    return [a, b, c, d]


def twin_normals(seed: int, deck: int, trial: int, segment: int, source: int, row: int) -> float:
    counter = [trial & ONES, deck, segment << 8 | source, trial >> 32 << 16 | row // 2]
    a, b, c, d = twin_philox(counter, [seed & ONES, seed >> 32])
    u, turn = (((high << 32 | low) >> 12) * 2.0**-52 + 2.0**-53 for low, high in ((a, b), (c, d)))
    angle = 2 * np.pi * turn
    return float(np.sqrt(-2 * np.log(u)) * (np.cos(angle) if row % 2 == 0 else np.sin(angle)))


@pytest.mark.parametrize(
    ("seed", "deck", "first"), [(1, 0, 0), (2**64 - 1, 5, 999), (12345678901234567890, 2**32 - 1, 2**40 - 3)]
)
def test_normal_numbers_against_a_twin(seed: int, deck: int, first: int) -> None:
    streams = [(0, 0, 3), (1, 4, 1), (700, 10, 4)]
    seen = np.zeros((8, 11))
    draw(seed, deck, first, 11, streams, seen)
    places = [(segment, source, row) for segment, source, rows in streams for row in range(rows)]
    wanted = [[twin_normals(seed, deck, first + n, *place) for n in range(11)] for place in places]
    np.testing.assert_allclose(seen, wanted, rtol=1e-13, atol=1e-15)


def test_a_number_belongs_to_its_place_alone() -> None:
    """Not to how many are drawn, where the drawing begins, or what else is drawn."""
    whole = np.zeros((5, 40))
    draw(7, 1, 100, 40, [(2, 3, 5)], whole)
    for first in (100, 101, 117, 139):
        one = np.zeros((3, 1))
        draw(7, 1, first, 1, [(2, 3, 3)], one)
        np.testing.assert_array_equal(one[:, 0], whole[:3, first - 100])
    out = np.zeros((5, BLOCK))
    Draws(7, 1).block(0, [Stream(2, 3, 5)], out)
    np.testing.assert_array_equal(out[:, 100:140], whole)


def test_numbers_are_normal_and_independent() -> None:
    """200,000 of each of six rows; four standard errors of mean, spread, skewness, kurtosis and correlations."""
    n = 200_000
    z = np.zeros((6, n))
    draw(3, 0, 0, n, [(0, 0, 3), (1, 0, 3)], z)
    assert np.abs(z.mean(axis=1)).max() < 4 / n**0.5
    assert np.abs(z.var(axis=1) - 1).max() < 4 * (2 / n) ** 0.5
    assert np.abs((z**3).mean(axis=1)).max() < 4 * (15 / n) ** 0.5
    assert np.abs((z**4).mean(axis=1) - 3).max() < 4 * (96 / n) ** 0.5
    for values in (z, z**2 - 1):
        assert np.abs(np.corrcoef(values) - np.eye(6)).max() < 4.5 / n**0.5


def test_functions_to_the_last_bits() -> None:
    rng = np.random.default_rng(1)
    v = np.concatenate(
        [np.linspace(-0.79, 0.79, 999), rng.uniform(-400, 400, 999), 10.0 ** rng.uniform(-300, 8, 999), [0.0, 1e300]]
    )
    with np.errstate(all="ignore"):
        seen = functions(v)
        wanted = np.column_stack([np.sin(v), np.cos(v), np.where(v == 0, 1.0, np.sin(v) / v), np.log(v)])
        bits = np.abs(seen - wanted) / np.vectorize(ulp)(np.maximum(np.abs(wanted), 1e-300))
    # Near a whole quarter of a large angle a sine is small: as near as the angle's own last bit tells.
    near = np.abs(seen - wanted) <= 2e-16 + 1e-18 * np.abs(v)[:, None]
    fine = (bits <= 2.0) | near
    assert fine[:, :3].all()
    assert fine[(v > 0) & (v < 1e290), 3].all()


# --- bits ------------------------------------------------------------------------------------------------------------


def yard(name: str) -> Plan:
    return plan(load_run(ROOT / f"runs/bakery/{name}.yaml"))


PLANS: dict[str, Callable[[], Plan]] = {
    "flour round": lambda: yard("flour-round"),
    "yard bell": lambda: yard("yard-bell"),
    "mill hatch": lambda: yard("mill-hatch"),
}


def driven(ready: Plan, first: int, count: int) -> Scratch:
    z = np.zeros((ready.drivetrain.rows, BLOCK))
    Draws(4).block(0, ready.drivetrain.streams, z)
    every = np.arange(len(ready.solids), dtype=np.int64)
    scratch = Scratch(ready.course, len(every), count)
    run_trials(ready.course, z, first, count, every, np.zeros_like(every), scratch)
    return scratch


def assert_same(a: Scratch, b: Scratch, rows: slice) -> None:
    for name, values in vars(a).items():
        np.testing.assert_array_equal(values, getattr(b, name)[rows], err_msg=name)


@pytest.mark.parametrize("name", PLANS)
def test_a_trial_has_the_same_bits_whatever_its_neighbours(name: str) -> None:
    ready = PLANS[name]()
    whole = driven(ready, 0, 43)
    for first, count in ((0, 1), (1, 1), (7, 9), (13, 30), (42, 1)):
        assert_same(driven(ready, first, count), whole, slice(first, first + count))


@pytest.fixture
def use(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[CDLL, str], None]]:
    """Use another variant of the library for a while."""

    def change(found: CDLL, variant: str) -> None:
        monkeypatch.setattr(library, "_loaded", lambda: (found, variant))
        library.function.cache_clear()

    yield change
    library.function.cache_clear()


def test_every_variant_gives_the_same_bits(use: Callable[[CDLL, str], None]) -> None:
    """The one for any processor and the one for this; another than this one's own cannot be run here."""
    found, own = library._loaded()
    wanted = {name: driven(make(), 0, 64) for name, make in PLANS.items()}
    use(found, "_plain")
    for name, make in PLANS.items():
        assert_same(driven(make(), 0, 64), wanted[name], slice(None))
    assert own in ("_plain", "_avx2", "_avx512")


# --- what it refuses -------------------------------------------------------------------------------------------------


def test_arrays_of_another_kind_or_shape_are_refused() -> None:
    right = np.zeros((3, 4))
    assert library.floats(right, 3, None) == right.ctypes.data
    for wrong in (right.astype(np.float32), right.T, right[:, ::2], right[0], right.tolist()):
        with pytest.raises(ValueError, match="the kernel was handed"):
            library.floats(wrong, 3, 4)  # type: ignore[arg-type]


def spoilt(ready: Plan) -> Iterator[tuple[str, Any]]:
    """Courses with one number or length that would lead outside an array."""
    course = ready.course
    wheels, entries, rests = course.wheels, course.entries, course.rests

    def changed(values: np.ndarray, at: Any, to: int) -> np.ndarray:
        found = values.copy()
        found[at] = to
        return found

    yield "wheels", course._replace(wheels=wheels._replace(left=wheels.left[:-1]))
    yield "pieces", course._replace(wheels=wheels._replace(piece=changed(wheels.piece, 1, 10**6)))
    yield "terms", course._replace(wheels=wheels._replace(term=changed(wheels.term, -1, 10**6)))
    yield "rows", course._replace(wheels=wheels._replace(row=changed(wheels.row, 0, -1)))
    for column, end in ((0, 10**6), (1, 10**6), (2, 10**6), (3, 10**6), (4, 10**6), (5, 9), (7, -1)):
        what = changed(entries.what, (0, column), end)
        yield f"entry {column}", course._replace(entries=entries._replace(what=what))
    yield "best", course._replace(entries=entries._replace(best=changed(entries.best, 0, 10**6)))
    yield "frame", course._replace(frame=changed(course.frame, 0, 10**6))
    yield "core", course._replace(pairs=course.pairs._replace(core=changed(course.pairs.core, 0, 10**6)))
    yield "corners", course._replace(parts=course.parts._replace(start=changed(course.parts.start, -1, 99)))
    yield "rest", course._replace(rests=rests._replace(piece=changed(rests.piece, 0, 10**6)))
    aligned = course.alignments
    yield "hull", course._replace(alignments=aligned._replace(what=changed(aligned.what, (0, 3), 10**6)))


def test_a_course_that_would_lead_outside_is_refused() -> None:
    ready = yard("yard-bell")
    library.packed(ready.course)
    taken = []
    for name, course in spoilt(ready):
        with suppress(ValueError):
            library.packed(course)
            taken.append(name)
    assert taken == []


def test_too_few_drawn_numbers_are_refused() -> None:
    ready = plan(run(Straight(100.0)))
    every = np.arange(len(ready.solids), dtype=np.int64)
    scratch = Scratch(ready.course, len(every), 4)
    for z, first, count in (
        (np.zeros((ready.drivetrain.rows - 1, 4)), 0, 4),
        (np.zeros((ready.drivetrain.rows, 4)), 1, 4),
        (np.zeros((ready.drivetrain.rows, 9)), 0, 5),
    ):
        with pytest.raises(ValueError, match=r"wanted|room for"):
            run_trials(ready.course, z, first, count, every, np.zeros_like(every), scratch)


def test_both_sides_use_the_same_numbers() -> None:
    """Constants that stand in C and in Python."""
    text = "".join(file.read_text() for file in sorted(build.SOURCES.glob("*.h")))

    def number(name: str) -> float:
        found = re.search(rf"\b{name} = ([\d.e-]+)", text)
        assert found is not None
        return float(found[1])

    assert (number("TOUCH"), number("LET_OFF")) == (sweep.TOUCH, drive.LET_OFF)
    kinds = re.search(r"enum \{\s*OVERLAP,(.*?)UNPROVED", text, re.DOTALL)
    assert kinds is not None
    names = ["OVERLAP", *re.findall(r"^\s*([A-Z_]+),", kinds[1], re.MULTILINE), "UNPROVED"]
    assert [getattr(sweep, name) for name in names] == list(range(8))


def test_a_library_of_other_sources_is_refused_and_says_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    load = library._loaded.__wrapped__
    monkeypatch.setattr(library, "source_mark", lambda: "another")
    with pytest.raises(library.KernelMissingError, match=re.escape(build.COMPILE)):
        load()
    monkeypatch.setattr(library, "FOLDER", tmp_path)
    with pytest.raises(library.KernelMissingError, match=r"there is no _kernel\..*" + re.escape(build.COMPILE)):
        load()


# --- sanitizers ------------------------------------------------------------------------------------------------------

UNDER_CHECKS = """
import sys
from pathlib import Path
sys.path[:0] = {paths!r}
from fieldsim.sim.kernel import library
library.FOLDER = Path({folder!r})
import numpy as np
from cases import BESTIARY, lined_up_scene, random_scene, random_scenes
from fieldsim.files import load_run
from fieldsim.sim.kernel.sweep import clearance
from fieldsim.sim.trials import simulate
for scene in [*BESTIARY, *random_scenes(2000, 5, random_scene), *random_scenes(2000, 6, lined_up_scene)]:
    clearance(*scene.args)
for name in ("flour-round", "mill-hatch", "oven-lever", "practice-loop", "yard-bell"):
    simulate(load_run(f"{root}/runs/bakery/{{name}}.yaml"), 515, threads=1)
print("clean")
"""


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("gcc") is None, reason="the checks need gcc")
def test_no_access_out_of_bounds_and_nothing_undefined(tmp_path: Path) -> None:
    """The fuzz of scenes and the demo runs under the address and undefined-behaviour sanitizers."""
    build.build(tmp_path / build.library_name(), sanitize=True)
    library_of_checks = subprocess.run(
        ["gcc", "-print-file-name=libasan.so"], capture_output=True, text=True, check=True
    ).stdout.strip()
    script = UNDER_CHECKS.format(paths=[str(ROOT), str(ROOT / "tests")], folder=str(tmp_path), root=ROOT)
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True,
        env={"LD_PRELOAD": library_of_checks, "ASAN_OPTIONS": "detect_leaks=0", "PATH": "/usr/bin:/bin"},
    )  # fmt: skip
    assert (done.returncode, done.stdout.strip()) == (0, "clean"), done.stderr[-3000:]
