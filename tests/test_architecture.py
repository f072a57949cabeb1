"""Who may import whom (DEVELOPERS.md): read from the source, whether an import is at the top or in a function."""

from __future__ import annotations

import ast
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
FACES = (
    "fieldsim.cli",
    "fieldsim.wording",
    "fieldsim.jigs_words",
    "fieldsim.slack_words",
    "fieldsim.statement",
    "fieldsim.studies_words",
    "fieldsim.card_page",
    "fieldsim.card_words",
    "fieldsim.fit_words",
    "fieldsim.further_words",
    "fieldsim.logbook_words",
    "fieldsim.match_card_page",
    "fieldsim.match_card_words",
    "fieldsim.match_words",
    "fieldsim.picture",
    "fieldsim.report",
    "fieldsim.report_words",
    "fieldsim.window",
)
# What computes or reads, as against what shows. `fieldsim/__init__` only hands names on.
CORE = (
    "fieldsim.alignment", "fieldsim.answer", "fieldsim.answer_schema", "fieldsim.base", "fieldsim.bounds",
    "fieldsim.card", "fieldsim.causes", "fieldsim.compare", "fieldsim.draws", "fieldsim.drivetrain",
    "fieldsim.errors", "fieldsim.failures", "fieldsim.files", "fieldsim.fit", "fieldsim.further", "fieldsim.jigs",
    "fieldsim.kernel", "fieldsim.logbook", "fieldsim.logbook_answer", "fieldsim.logbook_beliefs",
    "fieldsim.logbook_days", "fieldsim.logbook_details", "fieldsim.logbook_runs", "fieldsim.logbook_scores",
    "fieldsim.logbook_trials", "fieldsim.match", "fieldsim.match_answer", "fieldsim.match_bank",
    "fieldsim.match_card", "fieldsim.match_follow", "fieldsim.match_model", "fieldsim.match_order",
    "fieldsim.match_play", "fieldsim.match_policy", "fieldsim.match_story", "fieldsim.match_worth",
    "fieldsim.measured", "fieldsim.model", "fieldsim.motion", "fieldsim.observed", "fieldsim.outlines",
    "fieldsim.plan", "fieldsim.reml", "fieldsim.repeatability", "fieldsim.sample", "fieldsim.shapes",
    "fieldsim.slack", "fieldsim.square_path", "fieldsim.stats", "fieldsim.study", "fieldsim.tables", "fieldsim.tally",
    "fieldsim.trials", "fieldsim.units", "fieldsim.unknown", "fieldsim.widths",
)  # fmt: skip
# The module that may know each package, and all inside it.
ALLOWED = {
    "numba": ("fieldsim.kernel",),
    "yaml": ("fieldsim.files.nodes",),
    "ruamel": ("fieldsim.files.writing",),
    "matplotlib": ("fieldsim.picture",),
    "shapely": ("fieldsim.shapes", "fieldsim.trials", "fieldsim.picture", "fieldsim.window"),
    "pygame": ("fieldsim.window",),
    "PIL": ("fieldsim.window.record",),
    "click": ("fieldsim.cli",),
    "tqdm": ("fieldsim.cli",),
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


TREES = {
    module_name(path): (ast.parse(path.read_text(encoding="utf-8")), path.name == "__init__.py")
    for path in sorted((ROOT / "fieldsim").rglob("*.py"))
}
IMPORTS = {name: imports(tree, name, is_package) for name, (tree, is_package) in TREES.items()}


def test_imports_are_read_in_every_form() -> None:
    source = "import a.b\nfrom . import c\nfrom ..d import e\ndef f():\n    from g import h\n"
    wanted = {"a.b", "p.q", "p.q.c", "p.d", "p.d.e", "g", "g.h"}
    assert imports(ast.parse(source), "p.q.r", False) == wanted
    assert imports(ast.parse(source), "p.q", True) == wanted


@pytest.mark.parametrize("package", ALLOWED)
def test_only_their_own_part_knows_a_package(package: str) -> None:
    users = {name for name, found in IMPORTS.items() if any(inside(other, (package,)) for other in found)}
    assert users, "nothing imports it any more: drop it here and in pyproject.toml"
    assert {name for name in users if not inside(name, ALLOWED[package])} == set()


def test_the_kernel_stands_alone() -> None:
    def fits(other: str) -> bool:
        top = other.split(".")[0]
        return top in sys.stdlib_module_names | {"numpy", "numba"} or inside(other, ("fieldsim.kernel",))

    strangers = {
        (name, other)
        for name, found in IMPORTS.items()
        if inside(name, ("fieldsim.kernel",))
        for other in found
        if not fits(other)
    }
    assert strangers == set()


def test_what_computes_knows_nothing_of_what_shows() -> None:
    assert [name for name in CORE if name not in TREES] == []
    wrong = {
        (name, other)
        for name, found in IMPORTS.items()
        if inside(name, CORE)
        for other in found
        if inside(other, FACES)
    }
    assert wrong == set()


# The half of the window that is pure: tested without a screen, and of use to another one.
WITHOUT_A_SCREEN = (
    "camera", "clock", "field_edits", "field_files", "field_session", "field_view", "following", "history", "keys",
    "live", "match_session", "match_view", "paint_build", "paint_layout", "paint_places", "paint_scene", "recovery",
    "run_edits", "run_files", "run_session", "run_view", "session", "snapping",
)  # fmt: skip


def test_most_of_the_window_knows_no_screen() -> None:
    pure = [f"fieldsim.window.{name}" for name in WITHOUT_A_SCREEN]
    assert [name for name in pure if name not in TREES] == []
    assert [name for name in pure if any(inside(other, ("pygame",)) for other in IMPORTS[name])] == []


def test_nothing_but_the_entry_imports_the_command_line() -> None:
    assert {name for name, found in IMPORTS.items() if "fieldsim.cli" in found} <= {
        "fieldsim.__main__",
        "fieldsim.entry",
    }


def test_only_the_command_line_prints() -> None:
    printing = {
        name
        for name, (tree, _) in TREES.items()
        for node in ast.walk(tree)
        if (isinstance(node, ast.Name) and node.id == "print")
        or (isinstance(node, ast.Attribute) and node.attr in {"stdout", "stderr"})
    }
    # `entry` says which languages there are, and lets terminals write what they lack.
    assert printing <= {"fieldsim.cli", "fieldsim.entry"}


def test_no_ring_of_imports_at_load_time() -> None:
    """Imports at the top of modules form no ring, so that any module can be loaded first."""
    top: dict[str, set[str]] = {}
    for name, (tree, is_package) in TREES.items():
        assert isinstance(tree, ast.Module)
        loaded = [node for node in tree.body if isinstance(node, ast.Import | ast.ImportFrom)]
        found = imports(ast.Module(body=list(loaded), type_ignores=[]), name, is_package)
        top[name] = {other for other in found if other in TREES and other not in ("fieldsim", name)}
    while True:
        free = {name for name, needs in top.items() if not needs & top.keys()}
        if not free:
            break
        top = {name: needs for name, needs in top.items() if name not in free}
    assert top == {}
