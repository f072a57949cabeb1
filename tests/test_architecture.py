"""Who may import whom, read from the source, whether an import is at the top or in a function: see DEVELOPERS.md."""

from __future__ import annotations

import ast
import sys
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent

# The staircase: a room may import what stands on a lower step, and from its own. Data goes down it one way, from what a
# team describes to what a person sees.
STAIRCASE = (
    ("rounding", "build_hook"),
    ("language",),
    ("lettering", "answers"),
    ("model",),
    ("files", "stats"),
    ("sim",),
    ("studies",),
    ("calibration", "match"),
    ("photo",),
    ("planning",),
    ("logbook",),
    ("report",),
    ("draw",),
    ("cards",),
    ("pages",),
    ("catalog",),
    ("window",),
    ("cli",),
    ("entry",),
    ("__main__",),
)
STEP = {room: step for step, rooms in enumerate(STAIRCASE) for room in rooms}
# The module that may know each package, and all inside it.
ALLOWED = {
    "yaml": ("fieldsim.files.nodes",),
    "ruamel": ("fieldsim.files.changing",),
    "matplotlib": ("fieldsim.draw", "fieldsim.cards"),
    "shapely": (
        "fieldsim.sim.shapes",
        "fieldsim.sim.endings",
        "fieldsim.planning",
        "fieldsim.draw",
        "fieldsim.cards",
        "fieldsim.window",
    ),
    # It takes longer to load than ten thousand trials: only where a command cannot do without.
    "scipy": (
        "fieldsim.stats.reml",
        "fieldsim.calibration",
        "fieldsim.studies.base",
        "fieldsim.studies.jigs",
        "fieldsim.planning",
    ),
    "pygame": ("fieldsim.window",),
    "PIL": ("fieldsim.window.record",),
    "click": ("fieldsim.cli",),
    "tqdm": ("fieldsim.cli",),
    "xlsxwriter": ("fieldsim.pages.workbook",),
    "cv2": ("fieldsim.photo.opencv",),
}


def inside(name: str, parents: tuple[str, ...]) -> bool:
    return any(name == parent or name.startswith(parent + ".") for parent in parents)


def module_name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports(tree: ast.AST, name: str, is_package: bool) -> set[str]:
    """Every module a source imports, in full; `from fieldsim import x` counts as fieldsim and as fieldsim.x."""
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            source = node.module or ""
            if node.level:
                steps = name.split(".")
                base = steps[: len(steps) - node.level + is_package]
                source = ".".join([*base, source] if source else base)
            found.add(source)
            found |= {f"{source}.{alias.name}" for alias in node.names}
    return found


@cache
def trees() -> dict[str, tuple[ast.Module, bool]]:
    """Every module's source, and whether it is a package."""
    return {
        module_name(path): (ast.parse(path.read_text(encoding="utf-8")), path.name == "__init__.py")
        for path in sorted((ROOT / "fieldsim").rglob("*.py"))
    }


@cache
def imported() -> dict[str, set[str]]:
    return {name: imports(tree, name, is_package) for name, (tree, is_package) in trees().items()}


def room(name: str) -> str:
    """The room of a module, '' of `fieldsim` itself, which only hands names on."""
    return name.split(".")[1] if "." in name else ""


def test_imports_are_read_in_every_form() -> None:
    source = "import a.b\nfrom . import c\nfrom ..d import e\ndef f():\n    from g import h\n"
    wanted = {"a.b", "p.q", "p.q.c", "p.d", "p.d.e", "g", "g.h"}
    assert imports(ast.parse(source), "p.q.r", False) == wanted
    assert imports(ast.parse(source), "p.q", True) == wanted


def test_every_room_has_its_step() -> None:
    assert {room(name) for name in trees()} - {""} == STEP.keys()


def test_imports_go_down_the_staircase() -> None:
    up = {
        (name, other)
        for name, found in imported().items()
        for other in found
        if inside(other, ("fieldsim",)) and room(name) and room(other) in STEP
        if room(name) != room(other) and STEP[room(other)] >= STEP[room(name)]
    }
    assert up == set()


@pytest.mark.parametrize("package", ALLOWED)
def test_only_their_own_part_knows_a_package(package: str) -> None:
    users = {name for name, found in imported().items() if any(inside(other, (package,)) for other in found)}
    assert users, "nothing imports it any more: drop it here and in pyproject.toml"
    assert {name for name in users if not inside(name, ALLOWED[package])} == set()


def test_the_kernel_stands_alone() -> None:
    def fits(other: str) -> bool:
        top = other.split(".")[0]
        # hatchling runs the hook that compiles; nothing else does.
        return top in sys.stdlib_module_names | {"numpy", "hatchling", "packaging"} or inside(
            other, ("fieldsim.sim.kernel",)
        )

    strangers = {
        (name, other)
        for name, found in imported().items()
        if inside(name, ("fieldsim.sim.kernel",))
        for other in found
        if not fits(other)
    }
    assert strangers == set()


# The half of the window that paints or opens a screen; the rest is pure: tested without one, and of use to another.
WITH_A_SCREEN = (
    "desk", "doors", "loop", "record", "screen", "field.app", "match.app", "proposals.app", "robot.app", "run.app",
    "season.app", "studies.app", "paint.cards", "paint.editor", "paint.field", "paint.frame", "paint.ground",
    "paint.layers", "paint.look", "paint.marks", "paint.menu", "paint.names", "paint.othertables", "paint.over",
    "paint.proposals", "paint.robot", "paint.season", "paint.shots", "paint.strip", "paint.studies",
    "paint.toolbox", "paint.tools", "paint.writer", "quick",
)  # fmt: skip


def test_most_of_the_window_knows_no_screen() -> None:
    screens = tuple(f"fieldsim.window.{name}" for name in WITH_A_SCREEN)
    pure = [name for name in trees() if inside(name, ("fieldsim.window",)) and not inside(name, screens)]
    assert [name for name in screens if name not in trees()] == []
    assert [name for name in pure if any(inside(other, ("pygame", *screens)) for other in imported()[name])] == []


def test_only_the_command_line_prints() -> None:
    printing = {
        name
        for name, (tree, _) in trees().items()
        for node in ast.walk(tree)
        if (isinstance(node, ast.Name) and node.id == "print")
        or (isinstance(node, ast.Attribute) and node.attr in {"stdout", "stderr"})
    }
    # `entry` says which languages there are, and lets terminals write what they lack; `build` is for developers.
    may = ("fieldsim.cli", "fieldsim.entry", "fieldsim.sim.kernel.build")
    assert {name for name in printing if not inside(name, may)} == set()


def test_no_ring_of_imports_at_load_time() -> None:
    """Imports at the top of modules form no ring, so that any module can be loaded first."""
    top: dict[str, set[str]] = {}
    for name, (tree, is_package) in trees().items():
        loaded = [node for node in tree.body if isinstance(node, ast.Import | ast.ImportFrom)]
        found = imports(ast.Module(body=list(loaded), type_ignores=[]), name, is_package)
        top[name] = {other for other in found if other in trees() and other not in ("fieldsim", name)}
    while True:
        free = {name for name, needs in top.items() if not needs & top.keys()}
        if not free:
            break
        top = {name: needs for name, needs in top.items() if name not in free}
    assert top == {}
