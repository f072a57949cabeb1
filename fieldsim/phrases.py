"""Numbers and places of an answer as short phrases, never finer than what is known."""

from __future__ import annotations

import math

from fieldsim.answer import ClearanceAnswer, Share, TryAnswer, UnknownAnswer
from fieldsim.lettering import shorten

# From here on shares are told 'in 1000'. Below it the 95 % interval is wider than 10 in 100 in the worst case (a half
# width of 0.98/sqrt(n)), so the plain count and an interval 'in 100' say all that is known.
FINE_TRIALS = 400

NAME_CELLS = 26
SEGMENT_CELLS = 44


def segment_words(answer: TryAnswer, segment: int) -> str:
    """'segment 4, straight 420 mm'; only the number if the answer does not tell the words."""
    if 1 <= segment <= len(answer.segments):
        return f"segment {segment}, {shorten(answer.segments[segment - 1], SEGMENT_CELLS)}"
    return f"segment {segment}"


def on_segment(answer: TryAnswer, segment: int) -> str:
    """The same inside a sentence: 'segment 4 (straight 420 mm)'."""
    number, _, words = segment_words(answer, segment).partition(", ")
    return f"{number} ({words})" if words else number


def how_often(share: Share, trials: int) -> str:
    """A share in words with its interval, in no finer steps than the number of trials supports.

    >>> how_often(Share(0.871, 0.84881, 0.89036), 1000)
    '871 in 1000 (between 848 and 891)'
    >>> how_often(Share(0.0, 0.0, 0.003826), 1000)
    'none of 1000 (at most 4 in 1000)'
    >>> how_often(Share(0.85, 0.63958, 0.94758), 20)
    '17 of 20 (between 63 and 95 in 100)'
    """
    if trials <= 0:
        return "not known (no trial was done)"
    count = round(share.share * trials)
    none, every = (f"{count} of 1", f"{count} of 1") if trials == 1 else (f"none of {trials}", f"all of {trials}")
    per = 1000 if trials >= FINE_TRIALS else 100
    low, high = rounded_down(share.low * per), rounded_up(share.high * per)
    if count <= 0:
        return f"{none} (at most {high} in {per})"
    if count >= trials:
        return f"{every} (at least {low} in {per})"
    if low <= 0:
        between = f"at most {high}"
    elif high >= per:
        between = f"at least {low}"
    else:
        between = f"between {low} and {high}"
    if trials < FINE_TRIALS:
        return f"{count} of {trials} ({between} in 100)"
    exact = share.share * per
    if exact < 1:
        return f"less than 1 in {per} ({between})" if high > 1 else f"less than 1 in {per}"
    if exact > per - 1:
        return f"more than {per - 1} in {per} ({between})" if low < per - 1 else f"more than {per - 1} in {per}"
    return f"{round(exact)} in {per} ({between})"


def headline(answer: TryAnswer) -> str:
    """The one sentence: 'gets through 871 in 1000 (between 848 and 891)'."""
    if answer.trials == 0:
        return "no trial was done"
    return f"gets through {how_often(answer.success, answer.trials)}"


def rounded_down(value: float) -> int:
    # A ten-millionth is let off so that 0.57 * 100 = 56.99999 stays 57.
    return math.floor(value + 1e-7) if math.isfinite(value) else 0


def rounded_up(value: float) -> int:
    return math.ceil(value - 1e-7) if math.isfinite(value) else 0


def fixed(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0 else text


def floored(value: float, decimals: int) -> str:
    return fixed(math.floor(value * 10**decimals + 1e-7) / 10**decimals, decimals)


def ceiled(value: float, decimals: int) -> str:
    return fixed(math.ceil(value * 10**decimals - 1e-7) / 10**decimals, decimals)


def planned_gap(gap: float, horizon: float) -> str:
    """The planned gap is exact, so it is told to 0.1 mm, finer than any tape measures."""
    if not math.isfinite(gap) or gap >= horizon:
        return f"over {horizon:g} mm" if math.isfinite(horizon) else "far"
    if gap <= 0:
        return "it touches"
    if gap < 0.1:
        return "under 0.1 mm"
    return f"{fixed(gap, 1 if gap < 99.95 else 0)} mm"


def gap_decimals(low: float, high: float) -> int:
    """One decimal only if the interval is narrower than 1 mm to either side."""
    return 1 if math.isfinite(high - low) and (high - low) / 2 < 1 else 0


def left_gap(gap: ClearanceAnswer, horizon: float) -> str:
    """The margin, such as '3.1 mm (2.8 to 3.5)'."""
    if not math.isfinite(gap.p05) or gap.p05 >= horizon:
        return f"over {horizon:g} mm" if math.isfinite(horizon) else "far"
    if gap.p05 <= 0:
        return "nothing, it touches"
    decimals = gap_decimals(gap.p05_low, gap.p05_high)
    step = 10.0**-decimals
    low = "0" if gap.p05_low <= 0 else floored(gap.p05_low, decimals)
    high = f"over {horizon:g}" if gap.p05_high >= horizon else ceiled(gap.p05_high, decimals)
    value = f"under {step:g} mm" if gap.p05 < step else f"{floored(gap.p05, decimals)} mm"
    return f"{value} ({low} to {high})"


def signed(value: float, decimals: int) -> str:
    return fixed(value, decimals) if math.isfinite(value) else "?"


def near_gaps(answer: TryAnswer) -> list[ClearanceAnswer]:
    """What comes nearer than the horizon, in the answer's order (tightest first)."""
    if answer.trials == 0:
        return sorted((gap for gap in answer.clearance if gap.nominal < answer.horizon), key=lambda gap: gap.nominal)
    return [gap for gap in answer.clearance if min(gap.nominal, gap.p05) < answer.horizon]


NO_PROOF = "A simulated run is no proof: the table decides."
AS_WRITTEN = "The robot is taken just as its file has it; what its tests leave unknown is told by try."


def unknown_words(unknown: UnknownAnswer, share: float) -> str:
    """What the robot's tests leave unknown, as one sentence: rounded to the careful side, to tens where it is wide.

    ``share`` is how often the robot as written gets through. It is the one that fits its tests best, and with robots
    that differ from it more goes wrong than right: it may do better than nearly all of them.

    >>> unknown_words(UnknownAnswer(0.7012, 0.9487, 0.86, 5, 256, ()), 0.9)
    'With only 5 tests the robot may be better or worse than written: between 700 and 950 in 1000, 860 on average.'
    >>> unknown_words(UnknownAnswer(0.7012, 0.9487, 0.86, 5, 256, ()), 0.96)
    'With only 5 tests the robot is most likely worse than written: between 700 and 950 in 1000, 860 on average.'
    """
    way = "may be better or worse"
    if not unknown.low <= share <= unknown.high:
        way = f"is most likely {'worse' if share > unknown.high else 'better'}"
    step = 10 if unknown.high - unknown.low > 0.05 else 1
    low = rounded_down(unknown.low * 1000 / step) * step
    high = rounded_up(unknown.high * 1000 / step) * step
    tests = "only 1 test" if unknown.tests == 1 else f"{'only ' if unknown.tests < 10 else ''}{unknown.tests} tests"
    mean = round(unknown.mean * 1000 / step) * step
    return f"With {tests} the robot {way} than written: between {low} and {high} in 1000, {mean} on average."
