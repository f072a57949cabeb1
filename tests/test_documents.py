"""What the documents say is tried: commands, examples, and the order they promise."""

from __future__ import annotations

import doctest
import re
import shutil
import subprocess
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest
from commands import fieldsim as fieldsim_command

import fieldsim
from fieldsim import cli
from fieldsim.calibration import further
from fieldsim.model import Square, Straight
from fieldsim.planning import polish, search, tuning, ways
from fieldsim.window.loop import run_desk

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = re.findall(r"^\| `fieldsim ([^`]+)` \|", README, re.MULTILINE)
PICTURES = {"PNG": "picture.png", "GIF": "film.gif", "PDF": "card.pdf", "CSV": "steps.csv"}
TOP = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "fieldsim", "tests", "fields", "runs"}


def small(words: list[str]) -> list[str]:
    """The same with few trials, if the command has that option and no other says how many; it ends just so."""
    options = {each for option in cli.program.commands[words[0]].params for each in option.opts}
    if "--trials" not in options or {"--half-width", "--trial", "--tests"} & {*words}:
        return words
    few = ["--trials", "1000" if words[0] == "log" else "100"]
    if "--trials" in words:
        return [*words[: words.index("--trials")], *few]
    return [*words, *few]


def still_film(file: Path) -> Path:
    """A film of a robot that stands: a photo of the season, four times."""
    cv2 = pytest.importorskip("cv2", reason="films need the extra 'photo'")
    frame = cv2.imread(str(ROOT / "runs" / "bakery" / "before.jpg"))
    writer = cv2.VideoWriter(str(file), cv2.VideoWriter_fourcc(*"mp4v"), 10.0, (frame.shape[1], frame.shape[0]))
    for _ in range(4):
        writer.write(frame)
    writer.release()
    return file


def test_the_table_of_commands_was_found() -> None:
    assert {command.split()[0] for command in COMMANDS} == set(cli.program.commands)


# Studies that take longest: asked once in the daily suite (tests/catalog), in every row of theirs among the slow ones.
LONG = (
    "jigs",
    "slack",
    "widths",
    "compare",
    "causes",
    "log",
    "match",
    "route",
    "fit",
    "tune RUN --for",
    "tune RUN --save",
)


@pytest.mark.parametrize(
    "command",
    [pytest.param(row, marks=[pytest.mark.slow] if row.startswith(LONG) else []) for row in COMMANDS],
)
def test_commands_of_the_readme_run(command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # A window opens where nobody sees it, and closes after a few frames.
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    monkeypatch.setattr("fieldsim.window.loop.run_desk", partial(run_desk, frames=3))
    # What is written over is a copy.
    place = tmp_path if "--write" in command else Path()
    if "--write" in command:
        for name in ("runs", "fields"):
            shutil.copytree(ROOT / name, tmp_path / name)
    stands_for = {
        **{word: str(tmp_path / name) for word, name in PICTURES.items()},
        "TARGET": "flour lid",
        "TARGET,TARGET": "mill hatch,flour lid",
        "AREA": "left start",
        "FIELD": "fields/practice.yaml" if command.startswith("photo") else "fields/bakery.yaml",
        "PICTURE...": "runs/bakery/before.jpg",
        "BEFORE": "runs/bakery/before.jpg",
        "AFTER": "runs/bakery/after.jpg",
        "RUN": str(place / "runs/bakery/flour-round.yaml"),
        "ROBOT": str(place / "runs/bakery/box-one.yaml"),
        "TESTS": "runs/bakery/tests.csv",
        "LOG": "runs/bakery/log.csv",
        "MATCH": "runs/bakery/match.yaml",
        "FOLDER": str(tmp_path / "out"),
        "FILE...": "fields/bakery.yaml",
    }
    if "FILM" in command:
        stands_for["FILM"] = str(still_film(tmp_path / "film.mp4"))
    monkeypatch.setattr(further, "ROBOTS", 4)
    monkeypatch.setattr(further, "ALL_ROBOTS", 8)
    for name, count in (("COARSE", 60), ("FINE", 100), ("LOOK", 40), ("TRIED", 1), ("ROUNDS", 1)):
        monkeypatch.setattr(tuning, name, count)
    # A coarse map, few labels, few trials to choose with: the same code, in little time.
    monkeypatch.setattr(ways, "PLACES", 50)
    monkeypatch.setattr(search, "BEAM", 300)
    for name, value in (("FEW", 50), ("MANY", 50), ("TRIED", 6), ("BETTERED", 2), ("STEPS", (40.0,))):
        monkeypatch.setattr(polish, name, value)
    printed = fieldsim_command(*small([stands_for.get(word, word) for word in command.split()]))
    # The flour round gets through in fewer than 90 %: the table says that this ends with 1.
    assert printed.returncode == (1 if "--need" in command else 0), printed.stderr
    assert printed.stdout or command.split()[0] == "watch"
    assert all((tmp_path / name).is_file() for word, name in PICTURES.items() if word in command.split())
    assert "FOLDER" not in command or any((tmp_path / "out").iterdir())


def test_the_answer_in_the_readme_is_what_is_printed() -> None:
    (quoted,) = re.findall(r"```\n(Flour round: .*?\n)```", README, re.DOTALL)
    assert fieldsim_command("try", "runs/bakery/flour-round.yaml").stdout == quoted


def test_files_named_in_the_readme_are_there() -> None:
    named = set(re.findall(r"\b(?:runs|fields)/[\w/-]+\.yaml", README))
    assert named
    assert [name for name in named if not (ROOT / name).is_file()] == []
    pictures = re.findall(r"!\[[^]]+\]\(([^)]+)\)", README)
    links = re.findall(r"(?<!!)\[[^]]+\]\(([^)]+)\)", README)
    files = [name for name in links + pictures if not name.startswith("#")]
    assert [name for name in files if not (ROOT / name).is_file()] == []
    # A heading's anchor is the heading in small letters, without marks, with hyphens for spaces.
    headings = re.findall(r"^#+ (.+)$", README, re.MULTILINE)
    anchors = {"#" + re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-") for heading in headings}
    assert [name for name in links if name.startswith("#") and name not in anchors] == []


def test_python_example_of_the_readme(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    (example,) = re.findall(r"```python\n(.*?)```", README, re.DOTALL)
    monkeypatch.chdir(ROOT)
    exec(compile(example, "README.md", "exec"), {"__name__": "readme"})
    # A line is the width and the share, which may be followed by its interval.
    lines = [re.findall(r"\d+(?:\.\d+)?", line) for line in capsys.readouterr().out.splitlines()]
    widths, shares = [int(line[0]) for line in lines], [float(line[1]) for line in lines]
    assert "".join(f"{width}, " for width in widths).rstrip(", ") in example
    # The width must matter, or the example shows nothing. It need not be the narrowest that does best: a jig holds
    # a corner of the body, so that another width starts from another place.
    assert len(set(shares)) == len(widths) > 1
    assert all(0 <= share <= 1 for share in shares)


def test_examples_of_the_package(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    failed, tried = doctest.testmod(fieldsim)
    assert (failed, tried) == (0, 4)


def test_what_the_readme_says_a_square_is_worth(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    run = fieldsim.load_run("runs/bakery/yard-bell.yaml")
    (square,) = [n for n, segment in enumerate(run.segments) if isinstance(segment, Square)]
    instead = (*run.segments[:square], Straight(-60), Straight(1528), *run.segments[square + 2 :])
    assert run.segments[square + 1] == Straight(1538)
    told = [int(number) for number in re.findall(r"\*\*(\d+) in 1000\*\*", README)]
    for plan, share in zip((run, replace(run, segments=instead)), told, strict=True):
        assert round(fieldsim.simulate(plan, 10_000, seed=1).share.share * 1000) == share
    # Nothing but the square makes the difference: with it nearly all get through, without it hardly any.
    assert told[0] > 2.5 * told[1]


def test_readme_opens_with_the_job() -> None:
    title, job, then, *_ = re.split(r"\n\s*\n", README)
    assert title == "# fieldsim"
    assert re.match(r"[A-Z]", job), "a paragraph, not a heading, badge or list"
    for word in ("robotics team", "field", "without the table", "three text files", "how often"):
        assert word in " ".join(job.split())
    assert then.startswith("## ")


def test_top_level_holds_what_a_reader_looks_for_and_no_more() -> None:
    if not (ROOT / ".git").exists():
        pytest.skip("not a git checkout, so nothing says which files belong to the project")
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    top = {name.split("/")[0] for name in listed.splitlines()}
    assert {name for name in top if not name.startswith(".")} <= TOP
    assert top >= {"README.md", "LICENSE", "pyproject.toml", "fieldsim", "tests"}
