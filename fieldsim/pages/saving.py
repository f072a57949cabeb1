"""Saving an answer: files that are written whole or not at all, and never lose the old ones."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fieldsim.answers import to_json
from fieldsim.language import tr
from fieldsim.pages import page_words as report_words
from fieldsim.pages.driving import driving
from fieldsim.pages.page import report_html
from fieldsim.pages.tables import as_csv, segments_table, trials_table
from fieldsim.pages.workbook import workbook
from fieldsim.report.origin import Origin
from fieldsim.report.statement import Statement
from fieldsim.sim.sample import PathSample
from fieldsim.sim.trials import paths
from fieldsim.studies.attempt import Tried

if TYPE_CHECKING:
    from fieldsim.draw import Sheet

# Trial paths drawn in the picture: enough to see the spread, few enough to see each.
DRAWN = 60
NOWHERE = Origin("")
# The bar of what goes wrong, mm.
BAR, PHONE_BAR = 180.0, 90.0


def write_safely(path: Path, write: Callable[[Path], Any]) -> None:
    """Let ``write`` make the file beside its place, then put it there: an old one is kept until the new is whole."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.stem}-", suffix=path.suffix)
    os.close(handle)
    beside = Path(name)
    try:
        write(beside)
        with beside.open("rb") as written:
            os.fsync(written.fileno())
        # mkstemp makes files for this user alone; give it the rights a new file would have.
        umask = os.umask(0)
        os.umask(umask)
        beside.chmod(0o666 & ~umask)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)


def save(folder: Path, tried: Tried, origin: Origin = NOWHERE) -> list[Path]:
    """Write answer.json, segments.csv, trials.csv, tables.xlsx, run.svg, run.png and report.html into a folder; their
    paths.

    ``origin`` is told in the report as what it was made from.
    """
    from fieldsim import draw as picture
    from fieldsim.draw.landing import draw_landings, landings_of
    from fieldsim.draw.thousand import failing_parts, thousand_figure, thousand_words

    answer, run = tried.answer, tried.ready.run
    sample = sample_of(tried)
    tables = [segments_table(tried.ready), *([] if tried.first is None else [trials_table(tried.first)])]
    files = {f"{table.name}.csv": as_csv(table).encode() for table in tables}
    files["tables.xlsx"] = workbook(tables, tr("{run}, fieldsim {version}", run=run.name, version=answer.version))

    def told() -> Statement:
        parts = failing_parts(answer)
        landings = landings_of(tried)
        on_phone = picture.ON_PHONE
        seen = report_words.TryPictures(
            map=_drawn(picture.draw_try_map(run, answer, sample), picture.draw_try_map(run, answer, sample, on_phone)),
            ribbon=_narrowed(picture.draw_try_ribbon(answer), picture.draw_try_ribbon(answer, on_phone)),
            thousand=_drawn(thousand_figure(parts, BAR), thousand_figure(parts, PHONE_BAR))
            if answer.first
            else report_words.NOT_DRAWN,
            thousand_words=thousand_words(parts),
            landings=_narrowed(draw_landings(landings)) if landings else report_words.NOT_DRAWN,
            driving=driving(tried, sample),
        )
        return report_words.try_report(answer, run, seen)

    return _save(folder, "run", to_json(answer), files, picture.draw_try(run, answer, sample), told, origin)


def save_study(
    folder: Path,
    name: str,
    answer: dict[str, Any],
    statement: Statement,
    draw: Callable[[Sheet], Any],
    origin: Origin = NOWHERE,
    *,
    pictures: Mapping[str, tuple[str, str]],
    maps: bool = False,
) -> list[Path]:
    """Write answer.json, a picture as NAME.svg and NAME.png, and report.html; their paths.

    ``draw`` makes the picture for a sheet, or for a report several of them by name, whose words ``pictures``
    has (see ``with_pictures``); ``origin`` is told in the report as what it was made from. Pictures that are
    ``maps`` are drawn for a telephone by themselves, since their names have to find new places.
    """
    from fieldsim import draw as picture

    def told() -> Statement:
        figures = _named(name, draw(picture.IN_REPORT))
        if maps:
            narrow = _named(name, draw(picture.ON_PHONE))
            both = {each: _drawn(figure, narrow[each]) for each, figure in figures.items()}
        else:
            both = {each: _narrowed(figure) for each, figure in figures.items()}
        seen = report_words.with_pictures(
            statement,
            {each: drawn.wide for each, drawn in both.items()},
            pictures,
            {each: drawn.narrow for each, drawn in both.items()},
        )
        return report_words.with_method(seen, str(answer.get("command", "")))

    return _save(folder, name, answer, {}, draw(picture.ALONE), told, origin)


def _named(name: str, drawn: Any) -> dict[str, Any]:
    return drawn if isinstance(drawn, dict) else {name: drawn}


def _drawn(wide: Any, narrow: Any) -> report_words.Drawn:
    from fieldsim import draw as picture

    return report_words.Drawn(picture.svg_element(wide, cropped=True), picture.svg_element(narrow, cropped=True))


def _narrowed(figure: Any, other: Any = None) -> report_words.Drawn:
    """A chart, and the same (or another, drawn for it) laid out anew for a telephone."""
    from fieldsim import draw as picture
    from fieldsim.draw.narrow import narrowed

    wide = picture.svg_element(figure, cropped=True)
    with picture.plain_style():
        # Laid out tightly already.
        narrow = picture.svg_element(narrowed(other or figure, picture.ON_PHONE.width))
    return report_words.Drawn(wide, narrow)


def _save(
    folder: Path,
    name: str,
    answer: dict[str, Any],
    tables: dict[str, bytes],
    figure: Any,
    told: Callable[[], Statement],
    origin: Origin,
) -> list[Path]:
    from fieldsim import draw as picture

    folder.mkdir(parents=True, exist_ok=True)
    made = []

    def put(name: str, write: Callable[[Path], Any]) -> None:
        write_safely(folder / name, write)
        made.append(folder / name)

    put("answer.json", lambda path: path.write_text(json.dumps(answer, indent=1, allow_nan=False) + "\n"))
    for table_name, data in tables.items():
        put(table_name, partial(Path.write_bytes, data=data))
    put(f"{name}.svg", lambda path: picture.save(figure, path))
    put(f"{name}.png", lambda path: picture.save(figure, path))
    beside = tuple(path.name for path in made)
    made_by = report_words.colophon(answer["version"], answer.get("trials"), answer.get("seed"), origin, beside)
    page = report_html(told(), made_by)
    put("report.html", lambda path: path.write_text(page, encoding="utf-8"))
    return made


def sample_of(tried: Tried) -> PathSample:
    """The paths to draw: the first trials, and no more than that (a picked sample would mislead)."""
    if tried.first is None:
        raise ValueError("no trial was kept to draw")
    return paths(tried.ready, tried.answer.seed, tried.first, list(range(min(DRAWN, len(tried.first)))))
