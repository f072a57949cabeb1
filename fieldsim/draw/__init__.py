"""The picture of a try: the field from above to scale, the run on it, and below it the clearance along the run.

It shows what the answer and the sample of paths hold and computes no answer. Colours are those of Okabe & Ito, Color
Universal Design, 2008 (made to be told apart by colour-blind eyes, hex values from memory); whatever a colour tells is
told by a line style, a marker or a hatch as well, so the picture can be printed in grey.

matplotlib is used through its objects, never through pyplot: no window, no state left behind.
"""

from __future__ import annotations

import io
import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fieldsim.draw.designs import draw_causes, draw_causes_apart, draw_compare, draw_widths
from fieldsim.draw.field_map import draw_map, map_legend
from fieldsim.draw.look import (
    ALONE,
    FOOT,
    IN_REPORT,
    LARGE,
    LEFT,
    NORMAL,
    ON_PHONE,
    PALETTE,
    RIBBON,
    RIBBON_TITLE,
    RIGHT,
    SMALL,
    TALLEST_IN_REPORT,
    TALLEST_MAP,
    WIDTH,
    Sheet,
    families,
    glyphs_missing_are_boxes,
    plain_style,
)
from fieldsim.draw.ribbon import column_words, column_words_height, draw_ribbon
from fieldsim.draw.starts import draw_jigs, draw_slack
from fieldsim.language import tr, tr_many
from fieldsim.lettering import one_line, shorten
from fieldsim.model.errors import SaveError
from fieldsim.report.phrases import headline, no_proof, start_words

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from fieldsim.model import Run
    from fieldsim.sim.sample import PathSample
    from fieldsim.studies.answer import TryAnswer

__all__ = [
    "ALONE",
    "IN_REPORT",
    "ON_PHONE",
    "PALETTE",
    "Sheet",
    "draw_causes",
    "draw_causes_apart",
    "draw_compare",
    "draw_jigs",
    "draw_slack",
    "draw_try",
    "draw_try_map",
    "draw_try_ribbon",
    "draw_widths",
    "plain_style",
    "save",
    "svg_element",
]


def draw_try(run: Run, answer: TryAnswer, sample: PathSample) -> Figure:
    """A figure of the try, 11 inches wide, as tall as the field needs.

    ``run`` gives the map and the footprint, ``answer`` every number, ``sample`` the paths in mm and degrees. With
    ``answer.bare`` the robot is drawn without attachments. Save it with ``save``.
    """
    map_width, map_height = _map_size(run, ALONE)
    words = column_words(answer)
    below = column_words_height(words)
    top, legend = 0.78, 1.0
    height = top + map_height + legend + RIBBON_TITLE + RIBBON + below + FOOT

    with plain_style():
        figure = _figure(WIDTH, height)
        _write_fitting(
            figure, 1 - 0.13 / height, [_title(answer, limit) for limit in range(34, 7, -2)], fontsize=LARGE,
            weight="bold",
        )  # fmt: skip
        _write_fitting(
            figure, 1 - 0.46 / height, [_subtitle(answer, limit) for limit in range(28, 7, -2)], fontsize=NORMAL,
            color="#333333",
        )  # fmt: skip
        bottom = height - top - map_height
        _put_map(figure, run, answer, sample, (map_width, map_height), bottom, 5)
        _put_ribbon(figure, answer, words, FOOT + below, ALONE)
        figure.text(
            LEFT / WIDTH, 0.1 / height, no_proof(), fontsize=SMALL,
            color="#333333",
        )  # fmt: skip
    return figure


def draw_try_map(run: Run, answer: TryAnswer, sample: PathSample, sheet: Sheet = IN_REPORT) -> Figure:
    """The map of ``draw_try`` alone, with its legend."""
    map_width, map_height = _map_size(run, sheet)
    columns = 2 if sheet.narrow else 3
    handles = len(map_legend(run, answer, sample))
    bottom = 0.42 + 0.19 * -(-handles // columns)
    with plain_style():
        figure = _figure(sheet.width, 0.1 + map_height + bottom)
        _put_map(figure, run, answer, sample, (map_width, map_height), bottom, columns)
    return figure


def draw_try_ribbon(answer: TryAnswer, sheet: Sheet = IN_REPORT) -> Figure:
    """The ribbon of ``draw_try`` alone."""
    words = column_words(answer)
    below = column_words_height(words, sheet)
    with plain_style():
        figure = _figure(sheet.width, below + RIBBON + 0.45)
        _put_ribbon(figure, answer, words, below, sheet)
    return figure


def _figure(width: float, height: float) -> Figure:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height), facecolor="white")
    FigureCanvasAgg(figure)
    return figure


def _map_size(run: Run, sheet: Sheet) -> tuple[float, float]:
    """Width and height of the map on a sheet, inches."""
    w, d = run.field.size
    room = sheet.width - LEFT - RIGHT
    tallest = TALLEST_MAP if sheet.alone else TALLEST_IN_REPORT
    return (room, room * d / w) if room * d / w <= tallest else (tallest * w / d, tallest)


def _put_map(
    figure: Figure, run: Run, answer: TryAnswer, sample: PathSample, size: tuple[float, float], bottom: float,
    columns: int,
) -> None:  # fmt: skip
    """The map of a size, inches, in the middle of the page, and its legend below."""
    width, height = figure.get_size_inches()
    left = LEFT + (width - LEFT - RIGHT - size[0]) / 2
    axes = figure.add_axes((left / width, bottom / height, size[0] / width, size[1] / height))
    axes.set_label("map")
    narrow = width < 5.0
    draw_map(axes, run, answer, sample, size[0], narrow)
    figure.legend(
        handles=map_legend(run, answer, sample), loc="upper center", bbox_to_anchor=(0.5, (bottom - 0.36) / height),
        ncols=columns, fontsize=SMALL - 0.5 if narrow else NORMAL, frameon=False,
        handlelength=1.8 if narrow else 2.4, columnspacing=1.0 if narrow else 1.6, borderpad=0,
    )  # fmt: skip


def _put_ribbon(figure: Figure, answer: TryAnswer, words: Sequence[str], bottom: float, sheet: Sheet) -> None:
    width, height = figure.get_size_inches()
    axes = figure.add_axes((LEFT / width, bottom / height, (width - LEFT - RIGHT) / width, RIBBON / height))
    axes.set_label("ribbon")
    draw_ribbon(axes, answer, words, sheet)


def svg_element(figure: Figure, cropped: bool = False) -> str:
    """The figure as an SVG element that can stand in a page; without its empty margins if ``cropped``."""
    drawn = io.StringIO()
    crop: dict[str, Any] = {}
    with plain_style(), glyphs_missing_are_boxes():
        if cropped:
            # Measured, where 'tight' would draw all of it once more for that.
            crop["bbox_inches"] = figure.get_tightbbox().padded(0.04)
        figure.savefig(drawn, format="svg", metadata=dict.fromkeys(("Date", "Creator", "Type", "Format")), **crop)
    text = _own_font(drawn.getvalue())
    # Where that font is not there, one whose letters are as wide; who shows it finds other letters itself.
    text = text.replace("'DejaVu Sans'", "'DejaVu Sans', Verdana, sans-serif")
    return text[text.index("<svg") :]


def _own_font(svg: str) -> str:
    """A drawing that names our font alone, and not those of the machine that made it."""
    ours, *others = families()
    return svg.replace(", ".join(f"'{name}'" for name in (ours, *others)), f"'{ours}'") if others else svg


def save(figure: Figure, path: str | Path) -> Path:
    """Write the figure as SVG or PNG, told by the end of the name; the same figure gives the same bytes every time.

    The old file stays whole until the new one is there. Raises SaveError for another ending, or if the place cannot be
    written to.
    """
    path = Path(path)
    kind = path.suffix.lower().removeprefix(".")
    if kind not in ("svg", "png"):
        raise SaveError(
            tr("A picture can be saved as .svg or .png, but '{file}' ends in neither.", file=one_line(path.name))
        )
    drawn = io.BytesIO()
    with plain_style(), glyphs_missing_are_boxes():
        if kind == "svg":
            figure.savefig(drawn, format="svg", metadata={"Date": None, "Creator": None})
        else:
            figure.savefig(drawn, format="png", dpi=150, metadata={"Software": None})
    data = _own_font(drawn.getvalue().decode()).encode() if kind == "svg" else drawn.getvalue()
    beside = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        with beside.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise SaveError(
            tr(
                "The picture could not be written to '{file}': {reason}.",
                file=one_line(str(path)),
                reason=error.strerror,
            )
        ) from error
    return path


def _title(answer: TryAnswer, limit: int) -> str:
    return f"{shorten(answer.run, limit)}: {headline(answer)}"


def _subtitle(answer: TryAnswer, limit: int) -> str:
    words = tr_many(
        "{robot} on {field}, from {start}; {n} trial, seed {seed}",
        "{robot} on {field}, from {start}; {n} trials, seed {seed}",
        answer.trials,
        robot=shorten(answer.robot, limit),
        field=shorten(answer.field, limit),
        start=start_words(answer.start, limit),
        seed=answer.seed,
    )
    if answer.interrupted:
        words = tr("{subtitle}, stopped early", subtitle=words)
    return tr("{subtitle}, bare", subtitle=words) if answer.bare else words


def _write_fitting(figure: Figure, y: float, choices: Sequence[str], **look: Any) -> None:
    """The first of the texts, longest first, that fits on the page; letters differ too much in width to count them."""
    written = figure.text(LEFT / WIDTH, y, choices[0], va="top", parse_math=False, **look)
    with glyphs_missing_are_boxes():
        for words in choices:
            written.set_text(words)
            if written.get_window_extent().x1 <= figure.bbox.x1 * (1 - RIGHT / WIDTH):
                return
