"""Letters of other scripts come from fonts of the machine, and no drawing tells which ones it has."""

from __future__ import annotations

import io
from collections.abc import Iterator

import pytest
from matplotlib.figure import Figure

from fieldsim.draw import look, save, svg_element
from fieldsim.draw.look import families, plain_style


@pytest.fixture
def machine(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """With two fonts more; one that is asked for is not there."""
    monkeypatch.setattr(look, "SYSTEM_FONTS", ("Noto Sans CJK JP of nowhere", "STIXGeneral", "DejaVu Serif"))
    families.cache_clear()
    yield
    families.cache_clear()


def figure(words: str) -> Figure:
    with plain_style():
        made = Figure(figsize=(2, 1))
        made.text(0.1, 0.5, words)
    return made


def png(made: Figure) -> bytes:
    out = io.BytesIO()
    with plain_style(), look.glyphs_missing_are_boxes():
        made.savefig(out, format="png", metadata={"Software": None})
    return out.getvalue()


def test_only_fonts_that_are_there_are_asked(machine: None) -> None:
    assert families() == ("DejaVu Sans", "STIXGeneral", "DejaVu Serif")


def test_a_letter_that_our_font_lacks_is_drawn_from_another(machine: None, monkeypatch: pytest.MonkeyPatch) -> None:
    # STIXGeneral has it, DejaVu Sans has not.
    lacking = "\N{COMBINING ENCLOSING CIRCLE}"
    ours, others = png(figure("Ab 12")), png(figure(lacking))
    monkeypatch.setattr(look, "SYSTEM_FONTS", ())
    families.cache_clear()
    assert png(figure("Ab 12")) == ours
    assert png(figure(lacking)) != others


def test_a_drawing_names_our_font_alone(machine: None, tmp_path_factory: pytest.TempPathFactory) -> None:
    drawn = svg_element(figure("Ab"))
    assert "STIX" not in drawn
    assert "font-family: 'DejaVu Sans', Verdana, sans-serif" in drawn
    file = save(figure("Ab"), tmp_path_factory.mktemp("svg") / "a.svg").read_text(encoding="utf-8")
    assert "STIX" not in file
    assert "font-family: 'DejaVu Sans'" in file
