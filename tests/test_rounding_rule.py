"""One rounding for text, cards and window: as on paper, whatever way a number goes into a sentence."""

from __future__ import annotations

from fractions import Fraction
from math import inf, isfinite

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from fieldsim.cards.run.words import millimetres
from fieldsim.language import tr
from fieldsim.report import phrases
from fieldsim.rounding import Spoken, ceiled, fixed, floored, nearest

NUMBERS = st.one_of(
    st.floats(-1e7, 1e7),
    # Halves of a last digit, where ways to round differ.
    st.builds(lambda n, decimals: float(f"{n}5e-{decimals}"), st.integers(-99_999, 99_999), st.integers(1, 4)),
)
DECIMALS = st.integers(0, 3)


@pytest.mark.parametrize(
    ("value", "decimals", "told"),
    [
        (390.95, 1, "391.0"), (390.95, 0, "391"), (3922.5, 0, "3923"), (3921.5, 0, "3922"), (0.5, 0, "1"),
        (-0.5, 0, "-1"), (-0.0004, 3, "0.000"), (-0.04, 1, "0.0"), (-0.0, 0, "0"), (2.675, 2, "2.68"), (0.25, 1, "0.3"),
        (1e22, 0, "1" + 22 * "0"), (inf, 1, "inf"),
    ],
)  # fmt: skip
def test_by_hand(value: float, decimals: int, told: str) -> None:
    assert fixed(value, decimals) == told


@given(value=NUMBERS, decimals=DECIMALS)
@example(value=390.95, decimals=1)
def test_no_number_is_nearer_and_halves_go_away_from_nought(value: float, decimals: int) -> None:
    # Fractions know nothing of binary numbers: the digits that are written, exactly.
    written, told = Fraction(repr(value)), Fraction(fixed(value, decimals))
    step = Fraction(1, 10**decimals)
    assert (told / step).denominator == 1
    assert abs(told - written) <= step / 2
    if abs(told - written) == step / 2:
        assert abs(told) > abs(written)


@given(value=NUMBERS, decimals=DECIMALS)
def test_the_same_in_every_face(value: float, decimals: int) -> None:
    told = fixed(value, decimals)
    assert not told.startswith("-") or float(told) < 0
    assert fixed(-value, decimals).removeprefix("-") == told.removeprefix("-")
    assert f"{Spoken(value):.{decimals}f}" == told
    assert tr(f"{{value:.{decimals}f}} mm", value=value) == f"{told} mm"
    assert phrases.fixed(value, decimals) == told
    assert fixed(nearest(value, decimals), decimals) == told
    assert millimetres(value) == f"{fixed(value, 1).removesuffix('.0')} mm"


@given(value=NUMBERS, decimals=DECIMALS)
def test_ends_of_intervals_go_outwards(value: float, decimals: int) -> None:
    step = Fraction(1, 10**decimals)
    low, high = Fraction(floored(value, decimals)), Fraction(ceiled(value, decimals))
    slack = step / 10**6
    assert low - slack <= Fraction(value) <= high + slack
    assert high - low <= step
    assert Fraction(value) - low < step + slack


@given(value=st.floats(), spec=st.sampled_from(["", "g", ".3g", "+.1f", ".1f", "8.2f"]))
def test_other_formats_are_python_s_own_but_for_the_sign_of_nought(value: float, spec: str) -> None:
    told = f"{Spoken(value):{spec}}"
    if spec.endswith(".1f") and isfinite(value):
        assert told.removeprefix("+") == fixed(value, 1)
        assert told.startswith("+") == (spec.startswith("+") and not told.startswith("-"))
    elif value == 0:
        assert "-" not in told
    else:
        assert told == f"{value:{spec}}"
