"""Pictures of what was measured at the table: every mark stands where its number is. All numbers are invented."""

from __future__ import annotations

from math import isfinite
from typing import Any

import pytest
from plans import TYPICAL, robot
from plans import run as driven_along

from fieldsim.calibration.fit import fit
from fieldsim.draw.table_time import draw_fit, draw_log
from fieldsim.logbook.judge import judge
from fieldsim.model import Straight, value_of
from fieldsim.model.measured import LogEntry, Sheet, StraightTest
from fieldsim.report.words.fit.numbers import in_its_unit


def line_of(figure: Any, gid: str) -> Any:
    return next(line for axes in figure.axes for line in axes.lines if line.get_gid() == gid)


def test_numbers_of_the_tests_stand_where_they_are() -> None:
    """Each with its ends in the unit it is written in, and what the file says now; without an upper end to the edge."""
    answer = fit(
        robot(TYPICAL), Sheet(tuple(StraightTest(line=n, commanded=500.0, travel=503.0 + n % 2) for n in range(2, 6)))
    )
    told = {each.name: each for each in answer.estimates}
    figure = draw_fit(answer, TYPICAL, "title", "about", "headline")
    assert {axes.get_label() for axes in figure.axes} == {in_its_unit(name, 1.0)[1].split()[0] for name in told} | (
        {"mm"} if answer.tape else set()
    )
    for name, each in told.items():
        ends = line_of(figure, f"ends-{name}").get_xdata()
        assert ends[0] == pytest.approx(in_its_unit(name, each.low)[0])
        assert ends[1] >= in_its_unit(name, each.value)[0]
        if isfinite(each.high):
            assert ends[1] == pytest.approx(in_its_unit(name, each.high)[0])
        assert line_of(figure, f"value-{name}").get_xdata()[0] == pytest.approx(in_its_unit(name, each.value)[0])
        assert line_of(figure, f"now-{name}").get_xdata()[0] == pytest.approx(
            in_its_unit(name, value_of(TYPICAL, name))[0]
        )
    assert told["bias.distance"].value == pytest.approx(0.007, abs=0.001)
    # Nothing was measured: an empty page that says so.
    assert draw_fit(fit(robot(TYPICAL), Sheet(())), TYPICAL, "t", "a", "h").axes == []


def test_forecast_and_table_stand_one_above_the_other() -> None:
    run = driven_along(Straight(300.0))
    rows = [LogEntry(line=n, run="One", result="through" if n % 3 else "stopped") for n in range(2, 14)]
    answer = judge(rows, {"One": run}, trials=1000, threads=1)
    figure = draw_log(answer, "title", "about", "headline")
    (log,) = answer.runs
    for gid, share in (("forecast", log.judged.forecast), ("table", log.judged.observed)):
        assert line_of(figure, f"{gid}-0").get_xdata()[0] == pytest.approx(100 * share.share)
        assert list(line_of(figure, f"{gid}-ends-0").get_xdata()) == pytest.approx([100 * share.low, 100 * share.high])
    assert line_of(figure, "forecast-0").get_ydata()[0] < line_of(figure, "table-0").get_ydata()[0]
    (axes,) = draw_log(judge([], {}, trials=1000), "t", "a", "h").axes
    assert len(axes.lines) == 0
