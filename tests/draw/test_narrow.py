"""Charts laid out anew for a telephone: nothing stands outside, no two panels overlap, no word is lost.

Every answer behind them is the demo's, invented.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from fieldsim.draw import IN_REPORT, ON_PHONE, draw_causes_apart, draw_compare, draw_jigs, draw_widths, plain_style
from fieldsim.draw.landing import draw_landings, landings_of
from fieldsim.draw.narrow import narrowed
from fieldsim.files import load_run
from fieldsim.studies.attempt import attempt
from fieldsim.studies.causes import causes
from fieldsim.studies.compare import compare
from fieldsim.studies.jigs import rank
from fieldsim.studies.widths import widths

RUNS = Path(__file__).parents[2] / "runs/bakery"


def figures() -> dict[str, Any]:
    flour, bell = (load_run(RUNS / f"{name}.yaml") for name in ("flour-round", "yard-bell"))
    tried = attempt(flour, trials=256, keep=256, threads=1)
    made: dict[str, Any] = {
        "jigs": draw_jigs(rank(flour, trials=64), "", IN_REPORT),
        "widths": draw_widths(widths(flour, trials=64), "", "body width", IN_REPORT),
        "compare": draw_compare(compare([flour, bell], trials=64), "", IN_REPORT),
        "landings": draw_landings(landings_of(tried)),
        **draw_causes_apart(causes(bell, trials=64)),
    }
    return made


@pytest.fixture(scope="module")
def drawn() -> dict[str, Any]:
    return figures()


@pytest.mark.parametrize("name", ["jigs", "widths", "compare", "landings", "causes failures", "causes spread"])
def test_all_of_it_is_there_and_readable(name: str, drawn: dict[str, Any]) -> None:
    figure = drawn[name]
    names = {label.get_text() for axes in figure.axes for label in axes.get_yticklabels()}
    named = {each for each in names if any(letter.isalpha() for letter in each)}
    legend = {text.get_text() for each in figure.legends for text in each.get_texts()}
    with plain_style():
        narrowed(figure, ON_PHONE.width)
    width, height = figure.get_size_inches()
    assert width == ON_PHONE.width
    dpi = figure.dpi
    boxes = sorted((axes.get_tightbbox() for axes in figure.axes), key=lambda box: -box.y1)
    for box in boxes:
        assert box.x0 >= -0.03 * dpi
        assert box.x1 <= (width + 0.06) * dpi
        assert box.y0 >= -0.01 * dpi
        assert box.y1 <= (height + 0.01) * dpi
    assert all(upper.y0 >= lower.y1 - 1 for upper, lower in pairwise(boxes))
    said = [text.get_text() for axes in figure.axes for text in axes.texts]
    assert named <= set(said)
    told = {" ".join(text.get_text().split()) for each in figure.legends for text in each.get_texts()}
    assert {" ".join(text.split()) for text in legend} <= told
    # Letters are as large as on paper.
    assert all(text.get_fontsize() >= 7 for axes in figure.axes for text in axes.texts)
    for one in figure.legends:
        box = one.get_window_extent()
        assert box.x1 <= (width + 0.05) * dpi
        assert box.y1 <= boxes[-1].y0 + 1
