"""Puts small errors into a module, one at a time, and tells which of them the tests nearest to it do not notice.

    python tests/mutation.py fieldsim/stats/intervals.py --sample 60
    python tests/mutation.py fieldsim/match/policy.py fieldsim/match/play.py --seed 7 --tests tests/match

Run by hand from the top of the tree, not with the suite. An error is a comparison turned or moved by its edge, a sign,
another operator, `and` for `or`, a condition taken as always or never true, a number a little off, `min` for `max`, an
argument left out, or nothing handed back. A random sample of them, by seed, is tried: the files on disk stay as they
are, the changed module is compiled in memory and lives in a process of its own.

Before that all nearest tests run once as they are, and it is noted which of them pass through which line: an error is
then shown only to the tests that pass through its line, quickest first, until one fails. What no test notices is
printed with its place. Some of that is as good as right (an edge that no number ever meets): a person has to look.

Leave the tree as it is while it runs. Modules of the kernel are not for this: its compiled code does not see a changed
source.
"""

from __future__ import annotations

import argparse
import ast
import copy
import importlib.abc
import importlib.util
import json
import os
import random
import resource
import signal
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from importlib.machinery import ModuleSpec
from pathlib import Path
from types import CodeType, FrameType, ModuleType
from typing import Any

ROOT = Path(__file__).resolve().parent.parent

# Heavy packages, loaded once and inherited by every process that tries an error.
HEAVY = ("numpy", "scipy.optimize", "scipy.stats", "scipy.linalg", "shapely", "hypothesis", "pytest", "yaml")

# A test that takes so many times longer than without the error is taken to hang: that is noticed too. Seconds of the
# processor, so that a busy machine makes no difference; by the clock only what waits for ever.
SLOWER, LEAST_SECONDS = 20.0, 30.0
BY_THE_CLOCK = 20.0

UNSAID = "no answer"

TURNED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
OTHER: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}
SWAPPED = {"min": "max", "max": "min", "minimum": "maximum", "maximum": "minimum", "sin": "cos", "cos": "sin",
           "any": "all", "all": "any", "ceil": "floor", "floor": "ceil", "low": "high", "high": "low"}  # fmt: skip


@dataclass(frozen=True)
class Mutant:
    """One small error: which node stands in which place of its module's tree instead, and how that reads."""

    module: str
    line: int
    last_line: int
    before: str
    after: str
    source: ast.Module
    path: tuple[tuple[str, int | None], ...]
    node: ast.AST

    def __str__(self) -> str:
        return f"line {self.line}: {self.before}  ->  {self.after}"


def changes(node: ast.AST) -> Iterator[ast.AST]:
    """Every small error that can stand in the place of a node."""
    if isinstance(node, ast.Compare):
        for index, op in enumerate(node.ops):
            for other in TURNED.get(type(op), ()):
                made = copy.copy(node)
                made.ops = [*node.ops[:index], other(), *node.ops[index + 1 :]]
                yield made
    elif isinstance(node, ast.BinOp) and type(node.op) in OTHER:
        # A text put together or filled in is told otherwise, not calculated otherwise.
        if not any(
            isinstance(side, ast.Constant | ast.JoinedStr) and not number(side) for side in (node.left, node.right)
        ):
            yield ast.BinOp(node.left, OTHER[type(node.op)](), node.right)
    elif isinstance(node, ast.AugAssign) and type(node.op) in OTHER:
        yield ast.AugAssign(node.target, OTHER[type(node.op)](), node.value)
    elif isinstance(node, ast.BoolOp):
        yield ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
        for index in range(len(node.values)):
            rest = [*node.values[:index], *node.values[index + 1 :]]
            yield rest[0] if len(rest) == 1 else ast.BoolOp(node.op, rest)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub | ast.Invert):
        yield node.operand
    elif isinstance(node, ast.Constant):
        if isinstance(node.value, bool):
            yield ast.Constant(not node.value)
        elif isinstance(node.value, int):
            yield ast.Constant(node.value + 1)
        elif isinstance(node.value, float):
            yield ast.Constant(node.value * 1.1 if node.value else 1.0)
    elif isinstance(node, ast.IfExp):
        yield node.body
        yield node.orelse
    elif isinstance(node, ast.If | ast.While):
        always, never = copy.copy(node), copy.copy(node)
        always.test, never.test = ast.Constant(True), ast.Constant(False)
        yield never
        if isinstance(node, ast.If):
            yield always
    elif isinstance(node, ast.Name | ast.Attribute):
        name = node.id if isinstance(node, ast.Name) else node.attr
        if name in SWAPPED and isinstance(node.ctx, ast.Load):
            yield (
                ast.Name(SWAPPED[name], node.ctx)
                if isinstance(node, ast.Name)
                else ast.Attribute(node.value, SWAPPED[name], node.ctx)
            )
    elif isinstance(node, ast.Call):
        for index in range(len(node.keywords)):
            if node.keywords[index].arg in ("key", "reverse", "ddof", "side", "axis", "default"):
                yield ast.Call(node.func, node.args, [*node.keywords[:index], *node.keywords[index + 1 :]])
    elif isinstance(node, ast.Return) and node.value is not None and not is_none(node.value):
        yield ast.Return(ast.Constant(None))
    elif isinstance(node, ast.Continue):
        yield ast.Break()
    elif isinstance(node, ast.Break):
        yield ast.Continue()


def number(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, int | float)


def is_none(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


def places(node: ast.AST, path: tuple[tuple[str, int | None], ...] = ()) -> Iterator[tuple[tuple[Any, ...], ast.AST]]:
    """Every node with the way to it from the top; annotations, decorators, messages and texts are left out."""
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "type_params"):
            continue
        for index, child in enumerate(value) if isinstance(value, list) else ((None, value),):
            if not isinstance(child, ast.AST):
                continue
            if isinstance(child, ast.Raise | ast.Assert | ast.JoinedStr | ast.Import | ast.ImportFrom):
                continue
            if isinstance(child, ast.If) and isinstance(child.test, ast.Name) and child.test.id == "TYPE_CHECKING":
                continue
            here = (*path, (name, index))
            yield here, child
            yield from places(child, here)


def put(tree: ast.Module, path: tuple[Any, ...], node: ast.AST) -> ast.Module:
    """A copy of the tree with another node at a place."""
    made = copy.deepcopy(tree)
    at: Any = made
    for name, index in path[:-1]:
        at = getattr(at, name) if index is None else getattr(at, name)[index]
    name, index = path[-1]
    if index is None:
        setattr(at, name, node)
    else:
        getattr(at, name)[index] = node
    return made


def shown(node: ast.AST) -> str:
    text = ast.unparse(node).splitlines()[0]
    return text if len(text) <= 90 else text[:87] + "..."


def mutants(source: str, module: str) -> list[Mutant]:
    """All small errors of a source."""
    tree = ast.parse(source)
    found = []
    for path, node in places(tree):
        for other in changes(node):
            ast.copy_location(other, node)
            for part in ast.walk(other):
                if isinstance(part, ast.expr | ast.stmt) and not hasattr(part, "lineno"):
                    ast.copy_location(part, node)
            line = getattr(node, "lineno", 0)
            last = getattr(node, "end_lineno", line) if isinstance(node, ast.expr) else line
            found.append(Mutant(module, line, last, shown(node), shown(other), tree, path, other))
    return found


# --- which tests are nearest, which of them pass through a line ---------------------------------------------------


def nearest(path: Path) -> list[str]:
    """The tests of the module's room."""
    room = path.resolve().relative_to(ROOT / "fieldsim").parts[0]
    folder = ROOT / "tests" / Path(room).stem
    return [str(folder)] if folder.is_dir() else [str(ROOT / "tests")]


def module_name(path: Path) -> str:
    parts = path.resolve().relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def closure() -> dict[str, set[str]]:
    """For each module of ours all modules of ours that loading it may load."""
    from test_architecture import IMPORTS

    needs = {}
    for name, found in IMPORTS.items():
        mine = {other for other in found if other in IMPORTS} | {name}
        # A package is loaded before what is in it.
        needs[name] = {
            ".".join(other.split(".")[:n]) for other in mine for n in range(1, other.count(".") + 2)
        } & IMPORTS.keys()
    while True:
        wider = {name: set().union(*(needs[other] for other in found)) for name, found in needs.items()}
        if wider == needs:
            return needs
        needs = wider


class Changed(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Loads one module from code in memory instead of its file."""

    def __init__(self, name: str, file: Path, code: CodeType) -> None:
        self.name, self.file, self.code = name, file, code

    def find_spec(self, fullname: str, path: object, target: ModuleType | None = None) -> ModuleSpec | None:
        if fullname != self.name:
            return None
        package = self.file.name == "__init__.py"
        return importlib.util.spec_from_file_location(
            fullname, self.file, loader=self, submodule_search_locations=[str(self.file.parent)] if package else None
        )

    def create_module(self, spec: ModuleSpec) -> None:
        return None

    def exec_module(self, module: ModuleType) -> None:
        exec(self.code, module.__dict__)


@dataclass(eq=False)
class Watch:
    """A plugin of pytest: which tests pass, how long each takes, and which lines of one file each passes through."""

    file: str
    seconds: dict[str, float] = field(default_factory=dict)
    lines: dict[str, list[int]] = field(default_factory=dict)
    failed: list[str] = field(default_factory=list)
    now: set[int] = field(default_factory=set)

    def trace(self, frame: FrameType, event: str, arg: object) -> Any:
        return self.line if frame.f_code.co_filename == self.file else None

    def line(self, frame: FrameType, event: str, arg: object) -> Any:
        self.now.add(frame.f_lineno)
        return self.line

    def pytest_sessionstart(self) -> None:
        threading.settrace(self.trace)
        sys.settrace(self.trace)

    def pytest_collection_finish(self) -> None:
        self.lines[""] = sorted(self.now)

    def pytest_runtest_logstart(self) -> None:
        self.now.clear()

    def pytest_runtest_logreport(self, report: Any) -> None:
        self.seconds[report.nodeid] = self.seconds.get(report.nodeid, 0.0) + report.duration
        if report.failed:
            self.failed.append(report.nodeid)
        if report.when == "teardown":
            self.lines[report.nodeid] = sorted(self.now)


@dataclass(eq=False)
class First:
    """A plugin of pytest: the first test that fails."""

    failed: str = ""

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.failed and not self.failed:
            self.failed = report.nodeid

    def pytest_collectreport(self, report: Any) -> None:
        if report.failed and not self.failed:
            self.failed = "cannot be loaded"


def run_pytest(arguments: Sequence[str], plugin: object) -> int:
    import pytest

    quiet = ["-q", "-p", "no:cacheprovider", "-n", "0", "--benchmark-skip", "--hypothesis-seed=0", "--no-header",
             "-W", "ignore::pytest.PytestAssertRewriteWarning"]  # fmt: skip
    return int(pytest.main([*quiet, *arguments], plugins=[plugin]))


def in_a_child(work: Any, seconds: float) -> tuple[bool, Any]:
    """What ``work()`` hands back, from a process of its own: (whether it came to its end in time, its answer).

    ``seconds`` are those of the processor."""
    with tempfile.TemporaryFile("w+") as answer:
        child = os.fork()
        if child == 0:
            with open(os.devnull, "w") as nothing:
                os.dup2(nothing.fileno(), 1)
                os.dup2(nothing.fileno(), 2)
                os.setsid()
                resource.setrlimit(resource.RLIMIT_CPU, (int(seconds), int(seconds) + 1))
                try:
                    json.dump(work(), answer)
                except BaseException as why:
                    json.dump(repr(why), answer)
                finally:
                    answer.flush()
                    os._exit(0)
        end = time.monotonic() + BY_THE_CLOCK * seconds
        while os.waitpid(child, os.WNOHANG) == (0, 0):
            if time.monotonic() > end:
                os.killpg(child, signal.SIGKILL)
                os.waitpid(child, 0)
                return False, None
            time.sleep(0.02)
        answer.seek(0)
        text = answer.read()
        return bool(text), json.loads(text) if text else None


@dataclass
class Score:
    module: str
    tried: int = 0
    caught: int = 0


def tried(path: Path, tests: list[str], sample: int, seed: int, deselect: Sequence[str]) -> Score:
    """Try a sample of one module's errors; prints those that live."""
    name, source = module_name(path), path.read_text(encoding="utf-8")
    every = mutants(source, name)
    chosen = random.Random(seed).sample(every, min(sample, len(every)))
    chosen.sort(key=lambda mutant: mutant.line)

    def as_it_is() -> dict[str, Any]:
        watch = Watch(str(path.resolve()))
        ending = run_pytest([*tests, *(f"--deselect={each}" for each in deselect)], watch)
        sys.settrace(None)
        return {"seconds": watch.seconds, "lines": watch.lines, "failed": watch.failed, "ending": ending}

    began = time.monotonic()
    _, before = in_a_child(as_it_is, 3600.0)
    if not isinstance(before, dict) or before["failed"] or before["ending"] not in (0, 5):
        raise SystemExit(f"the tests fail as they are: {before}")
    of_line: dict[int, set[str]] = {}
    for test, lines in before["lines"].items():
        for line in lines:
            of_line.setdefault(line, set()).add(test)
    print(f"{name}: {len(every)} possible errors, {len(before['seconds'])} tests, {time.monotonic() - began:.0f} s")

    score = Score(name)
    for mutant in chosen:
        through = set().union(*(of_line.get(line, set()) for line in range(mutant.line, mutant.last_line + 1)))
        # What is worked out as the module is loaded counts for every test.
        suspects = set(before["seconds"]) if "" in through else through
        queue = sorted(suspects, key=lambda test: before["seconds"][test])
        noticed = noticed_by(mutant, path, queue, before["seconds"]) if queue else ""
        score.tried += 1
        score.caught += bool(noticed)
        if not noticed:
            print(f"  lives: {mutant}" + ("" if queue else "  (no test passes here)"), flush=True)
    print(f"  {score.caught} of {score.tried} noticed, {time.monotonic() - began:.0f} s", flush=True)
    return score


def noticed_by(mutant: Mutant, path: Path, queue: list[str], seconds: dict[str, float]) -> str:
    """The first test that fails with an error in place; nothing if all pass."""
    try:
        code = compile(
            ast.fix_missing_locations(put(mutant.source, mutant.path, mutant.node)), str(path.resolve()), "exec"
        )
    except (SyntaxError, ValueError):
        return "cannot be compiled"

    def with_it() -> str:
        sys.meta_path.insert(0, Changed(mutant.module, path.resolve(), code))
        first = First()
        ending = run_pytest(["-x", *queue], first)
        # What pytest could not begin with is no answer.
        return first.failed or ("" if ending == 0 else UNSAID if ending in (4, 5) else "pytest itself")

    limit = LEAST_SECONDS + SLOWER * sum(seconds[test] for test in queue)
    done, failed = in_a_child(with_it, limit)
    if failed == UNSAID:
        raise SystemExit(f"pytest does not know these tests: {queue}")
    return str(failed) if done else "hangs or breaks"


def main() -> None:
    words = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    words.add_argument("modules", nargs="+", type=Path, help="files such as fieldsim/stats/intervals.py")
    words.add_argument("--sample", type=int, default=60, help="how many errors of each module")
    words.add_argument("--seed", type=int, default=1, help="which of them")
    words.add_argument("--tests", nargs="+", help="instead of the tests of the module's room")
    words.add_argument("--without", nargs="+", default=(), help="tests that are left out, such as slow ones")
    asked = words.parse_args()

    os.chdir(ROOT)
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    os.environ["PYTHONDONTWRITEBYTECODE"] = "1"
    sys.dont_write_bytecode = True
    sys.path[:0] = [str(ROOT), str(ROOT / "tests")]
    with tempfile.TemporaryDirectory() as folder:
        os.environ["HYPOTHESIS_STORAGE_DIRECTORY"] = folder
        for package in HEAVY:
            importlib.import_module(package)
        needs = closure()
        names = {module_name(path) for path in asked.modules}
        for name in sorted(needs):
            # What cannot see any of the changed modules is loaded once for all. The rest each process loads anew.
            if name.startswith(("fieldsim.model", "fieldsim.sim", "fieldsim.stats")) and not needs[name] & names:
                importlib.import_module(name)
        scores = [
            tried(path, asked.tests or nearest(path), asked.sample, asked.seed, asked.without) for path in asked.modules
        ]
    print()
    for score in scores:
        print(f"| `{score.module}` | {score.tried} | {score.caught} | {score.caught / max(1, score.tried):.0%} |")


if __name__ == "__main__":
    main()
