"""Test sheets and logs as spreadsheets save them: every way of writing is read, every mistake said at its place."""

from __future__ import annotations

import csv
import datetime
import io
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from math import asin, degrees
from pathlib import Path
from random import Random
from typing import Any
from unicodedata import category

import pytest
from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from small_files import assert_one_problem, assert_refused, unmark

from fieldsim.files.nodes import MOST_BYTES
from fieldsim.files.sheets import MOST_PROBLEMS, SEPARATORS, blank_log, blank_sheet, load_log, load_sheet
from fieldsim.model.errors import FileError, PlanError
from fieldsim.model.measured import (
    DropTest,
    Log,
    LogEntry,
    PlacingTest,
    Sheet,
    SquarePathTest,
    SquareTest,
    StraightTest,
    Test,
    ThereAndBackTest,
    TurnTest,
)

DAY = datetime.date(2026, 11, 25)


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("sheets") / "tests.csv"


def sheet_of(file: Path, text: str | bytes) -> Sheet:
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    return load_sheet(file)


def log_of(file: Path, text: str) -> Log:
    file.write_bytes(text.encode())
    return load_log(file)


def assert_one(file: Path, text: str, message: str, hint: str = "", load: Callable[..., Any] = load_sheet) -> None:
    """A file with a mark ¦ has one mistake, there; message and hint hold these words."""
    text, place = unmark(text)
    file.write_bytes(text.encode())
    assert_one_problem(assert_refused(file, load), place, message, hint)


# --- what is read ------------------------------------------------------------------------------------------------

EVERY_KIND = """\
# an invented sheet
test,date,heading from,speed mm/s,commanded mm,travel mm,sideways mm,heading deg,tape mm,note

straight,2026-11-25,gyro,200,1000,1004,-6,-0.7,0.5,new tyres
straight,,,,-500,-497.5
,,,,,
# the rest in the afternoon, "with" another battery
straight,,,,40 cm,0.395 m,
"""


def test_straights(file: Path) -> None:
    assert sheet_of(file, EVERY_KIND) == Sheet(
        (
            StraightTest(
                line=4, date=DAY, tape=0.5, note="new tyres", commanded=1000.0, travel=1004.0, sideways=-6.0,
                heading=-0.7, speed=200.0, heading_from="gyro", protractor=0.1,
            ),
            StraightTest(line=5, commanded=-500.0, travel=-497.5, tape=0.5),
            StraightTest(line=8, commanded=400.0, travel=395.0),
        )
    )  # fmt: skip


def test_the_other_kinds(file: Path) -> None:
    text = """\
test,commanded deg,angle deg,near mm,far mm,side mm,turn speed deg/s,direction,return x mm,return y mm,heading deg
turn,-90,-88.5,,,,120
turn,180 deg,,50,54,160
Square Path,,,,,800,,CCW,14,-22,3
"""
    read = sheet_of(file, text)
    assert read.turns == (
        TurnTest(line=2, commanded=-90.0, angle_read=-88.5, turn_speed=120.0),
        TurnTest(line=3, commanded=180.0, near=50.0, far=54.0, side=160.0),
    )
    assert read.square_paths == (
        SquarePathTest(line=4, side=800.0, direction="ccw", return_x=14.0, return_y=-22.0, heading=3.0),
    )
    text = """\
test,along mm,across mm,heading deg,jig,result,came off
placing,0.5,-1,0.3,corner jig
placing,2,3
drop,,,,,pass
drop,,,,,fail,"left fender, a pin"
"""
    read = sheet_of(file, text)
    assert read.placings == (
        PlacingTest(line=2, along=0.5, across=-1.0, heading=0.3, jig="corner jig", tape=0.5, protractor=0.1),
        PlacingTest(line=3, along=2.0, across=3.0, tape=0.5),
    )
    assert read.drops == (
        DropTest(line=4, result="pass"),
        DropTest(line=5, result="fail", came_off="left fender, a pin"),
    )
    assert read.straights == ()
    assert [test.tape for test in read.tests] == [0.5, 0.5, 1.0, 1.0]


def test_the_angle_of_a_turn_by_tape_is_left_positive() -> None:
    # Seen from above the robot is at 0 and the wall at x = 100; its front face is 160 wide and 60 ahead of its middle.
    # Turned a little too far left, its left end at (60, 80) goes to x = 60 cos - 80 sin, its right end to + 80 sin.
    sine, cosine = 0.05, (1 - 0.05**2) ** 0.5
    left, right = 100 - (60 * cosine - 80 * sine), 100 - (60 * cosine + 80 * sine)
    turn = TurnTest(line=1, commanded=90.0, near=right, far=left, side=160.0)
    assert turn.angle == pytest.approx(90 + degrees(asin(sine)))
    assert replace(turn, commanded=-90.0).angle == pytest.approx(-90 + degrees(asin(sine)))
    assert replace(turn, commanded=100.0, near=left, far=right).angle == pytest.approx(90 - degrees(asin(sine)))
    assert TurnTest(line=1, commanded=90.0, angle_read=91.0).angle == 91.0


def test_a_log(file: Path) -> None:
    text = """\
date;run;result;where;segment;target;miss mm;seconds s;note
2026-11-25;flour round;through;;;lever;4,5;38,5;"good, at last"
;flour round;touched;milk churn;6
;flour round;Missed;lever;;;15
;flour round;stopped;;3;;;;wheel came off
"""
    assert log_of(file, text) == Log(
        (
            LogEntry(
                line=2, date=DAY, run="flour round", result="through", target="lever", miss=4.5, seconds=38.5,
                note="good, at last",
            ),
            LogEntry(line=3, run="flour round", result="touched", where="milk churn", segment=6),
            LogEntry(line=4, run="flour round", result="missed", where="lever", miss=15.0),
            LogEntry(line=5, run="flour round", result="stopped", segment=3, note="wheel came off"),
        )
    )  # fmt: skip


@pytest.mark.parametrize(("blank", "load", "count"), [(blank_sheet, load_sheet, 8), (blank_log, load_log, 4)])
def test_blank_files_read_back(blank: Callable[[], str], load: Callable[[Path], Any], count: int, file: Path) -> None:
    def rows(text: str) -> Sequence[Any]:
        file.write_text(text)
        read = load(file)
        return read.tests if isinstance(read, Sheet) else read.entries

    assert rows(blank()) == ()
    examples = rows(re.sub("^#(?=[0-9])", "", blank(), flags=re.MULTILINE))
    assert len(examples) == count
    kinds = {type(row) if isinstance(row, Test) else row.result for row in examples}
    assert kinds in (
        {StraightTest, TurnTest, SquarePathTest, ThereAndBackTest, PlacingTest, SquareTest, DropTest},
        {"through", "touched", "missed", "stopped"},
    )
    assert {row.note for row in examples} == {"invented example"}
    # A spreadsheet would cut a comment at these, and an editor would need an encoding for anything else.
    comments = [line for line in blank().splitlines() if line.startswith("# ")]
    assert not any(set(",;\t") & set(line) for line in comments)
    assert blank().isascii()


SMALL = "test,commanded mm,travel mm,note\nstraight,500,498.5,Tür\n"
READ = Sheet((StraightTest(line=2, commanded=500.0, travel=498.5, tape=0.5, note="Tür"),))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_encodings_and_line_ends(encoding: str, end: str, file: Path) -> None:
    assert sheet_of(file, SMALL.replace("\n", end).encode(encoding)) == READ


@pytest.mark.parametrize(
    "text",
    [
        SMALL.replace(",", ";"),
        SMALL.replace(",", "\t"),
        SMALL.replace(",", ";").replace("498.5", "498,5"),
        SMALL.replace(",", "\t").replace("498.5", "498,5 mm"),
        SMALL.replace("498.5", '"498,5"'),
        SMALL.replace("498.5", '"49,85 cm" '),
        SMALL.replace("498.5", ' "498.5"'),
        SMALL.replace("498.5", "+ 498.50mm"),
        SMALL.replace("test,commanded mm,travel mm", "TEST,Commanded MM, travelmm "),
        SMALL.replace("travel mm", "travel (mm)"),
        SMALL.replace("travel mm", "travel cm").replace("498.5", "49.85"),
        SMALL.replace("travel mm", "Travel [CM]").replace("498.5", "498.5 mm"),
        SMALL.replace("travel mm", "travel m").replace("498.5", "0.4985"),
        SMALL.replace("\n", ",,\n"),
        SMALL.replace("straight", "STRAIGHT"),
        SMALL[:-1],
    ],
)
def test_ways_of_writing_the_same(text: str, file: Path) -> None:
    assert sheet_of(file, text) == READ


@pytest.mark.parametrize("first", ["sep=;", '"sep=;"', "sep=;;;"])
def test_a_first_line_that_tells_the_separator(first: str, file: Path) -> None:
    (read,) = sheet_of(file, f"{first}\ntest;commanded mm;travel mm\nstraight;500;498,5\n").tests
    assert read == StraightTest(line=3, commanded=500.0, travel=498.5, tape=0.5)


@pytest.mark.parametrize("comment", ["#", "# a, b", '"# a, b",,', '  # a "b', '# "', '"# a\nb",', "#straight,1,2"])
def test_comments_between_rows(comment: str, file: Path) -> None:
    lines = comment.count("\n") + 1
    text = f"{comment}\ntest,commanded mm,travel mm\n{comment}\nstraight,500,498\n{comment}"
    assert sheet_of(file, text).tests == (StraightTest(line=2 * lines + 2, commanded=500.0, travel=498.0),)


@pytest.mark.parametrize("note", ["=1+2", "+5", "-x", "@home", "=HYPERLINK(A1)", "# 3", '5" wheel'])
def test_formulas_and_the_like_are_only_text(note: str, file: Path) -> None:
    (read,) = sheet_of(file, f"test,result,note\ndrop,pass,{note}\n").tests
    assert read.note == note


def test_lines_are_counted_through_cells_of_several_lines(file: Path) -> None:
    text = 'note,test,result\n"one\n# two\n\nthree",drop,pass\n,drop,fail\n'
    assert sheet_of(file, text).tests == (
        DropTest(line=2, result="pass", note="one\n# two\n\nthree"),
        DropTest(line=6, result="fail"),
    )
    assert_one(file, 'note,test,result\n"one\n\ntwo",drop,¦no\n', "'result' is 'no'; accepted: pass | fail")
    assert_one(file, 'note,test,result\n"one\ntwo",drop,pass\n,¦drob,pass\n', "'test' is 'drob'", "'drop'?")


@pytest.mark.parametrize(
    ("cells", "value"),
    [
        ("1,500;12,5", 1.5),  # a comma elsewhere is certainly a decimal mark
        ("0,500;", 0.5),
        ("1,5000;", 1.5),
        ("1.500;", 1.5),
        ("1.500;12.5", 1.5),
        ("1500,;", 1500.0),
        (",5;", 0.5),
        ("\u22121,5;", -1.5),
        ("1,5\u00a0mm;", 1.5),
        ("5 cm;", 50.0),
        ("0,5 in;", 12.7),
    ],
)
def test_decimal_marks(cells: str, value: float, file: Path) -> None:
    if abs(value) > 100:
        text = f"test;commanded mm;travel mm\nstraight;1500;{cells}\n"
        assert sheet_of(file, text).straights[0].travel == value
    else:
        text = f"test;across mm;along mm;heading deg\nplacing;0;{cells}\n"
        assert sheet_of(file, text).placings[0].along == value


@pytest.mark.parametrize(
    "written",
    [
        "25.11.2026", "25. 11. 2026", "2026/11/25", "2026.11.25", "20261125", "2026-11-25 10:30:00", "25 Nov 2026",
        '"November 25, 2026"',
    ],
)  # fmt: skip
def test_dates_that_can_mean_one_day_only(written: str, file: Path) -> None:
    assert sheet_of(file, f"test,date,result\ndrop,{written},pass\n").tests == (
        DropTest(line=2, date=DAY, result="pass"),
    )


def test_headers_in_other_units(file: Path) -> None:
    text = "test,commanded in,travel in,sideways cm,speed in/s,tape in\nstraight,20,19.75,-0.4,8,0.125\n"
    (read,) = sheet_of(file, text).tests
    assert read == StraightTest(line=2, commanded=508.0, travel=501.65, sideways=-4.0, speed=203.2, tape=3.175)
    # A unit in the cell goes before the header's.
    (read,) = sheet_of(file, 'test,commanded cm,travel inches\nstraight,"50,0",500 mm\n').straights
    assert (read.commanded, read.travel) == (500.0, 500.0)
    assert log_of(file, "run,result,where,miss cm\na,missed,bell,1.5\n").entries[0].miss == 15.0


def straight_rows(*travels: str, header: str = "travel mm", commanded: str = "500", more: str = "") -> str:
    rows = "".join(f"straight,{commanded},{travel}{more}\n" for travel in travels)
    return f"test,commanded mm,{header}\n{rows}"


@pytest.mark.parametrize(
    ("travels", "header", "step"),
    [
        (["498", "501"], "travel mm", 1.0),
        (["498", "501.5"], "travel mm", 0.5),
        (["498.2", "501.5"], "travel mm", 0.1),
        (["498.2", "501.4"], "travel mm", 0.2),
        (["49.8", "50.1"], "travel cm", 1.0),
        (["49.85", "50.1"], "travel cm", 0.5),
        (["0.498", "0.501"], "travel m", 1.0),
        (["19.75", "19.5"], "travel in", 25.4 / 16),
        (["19.3", "19.5"], "travel in", 2.54),
        (["19.59375", "19.5"], "travel in", 25.4 / 32),
    ],
)
def test_the_step_of_the_tape_is_that_of_the_readings(travels: list[str], header: str, step: float, file: Path) -> None:
    read = sheet_of(file, straight_rows(*travels, header=header))
    assert [test.tape for test in read.tests] == pytest.approx([step] * len(travels))
    assert bool(read.notes) == (step != 1.0)


def test_what_is_said_of_steps(file: Path) -> None:
    read = sheet_of(file, straight_rows("498", "501.5"))
    assert read.notes == (
        "2 straight tests without 'tape mm' have readings finer than 1 mm, such as 501.5 on line 3: taken as read to "
        "0.5 mm",
    )
    # What the row says is what counts, even if a reading is finer.
    read = sheet_of(file, straight_rows("498", "501.5", "499.5", header="travel mm,tape mm", more=",1"))
    assert [test.tape for test in read.tests] == [1.0] * 3
    (note,) = read.notes
    assert note.startswith("line 3 and 1 more: 'travel mm' is 501.5, finer than the 1 mm in 'tape mm'")
    coarse = [str(value) for value in (490, 495, 500, 505, 510, 515)]
    (note,) = sheet_of(file, straight_rows(*coarse)).notes
    assert "write 5 in 'tape mm'" in note
    assert sheet_of(file, straight_rows(*coarse[1:])).notes == ()
    assert sheet_of(file, straight_rows(*coarse[1:], "501")).notes == ()
    # Nought is a multiple of everything, and the same reading again tells nothing new.
    assert sheet_of(file, straight_rows(*["500"] * 20)).notes == ()


def test_each_kind_of_test_has_its_own_step(file: Path) -> None:
    text = (
        "test,commanded mm,travel mm,along mm,across mm,heading deg\n"
        "straight,500,498\nplacing,,,0.5,1,0\nplacing,,,0,1,0.5\nplacing,,,0,1\n"
    )
    read = sheet_of(file, text)
    assert [test.tape for test in read.tests] == [1.0, 0.5, 0.5, 0.5]
    assert [test.protractor for test in read.placings] == [0.5] * 3
    assert len(read.notes) == 1
    assert "3 placing tests" in read.notes[0]


def test_the_step_of_angles(file: Path) -> None:
    assert [t.protractor for t in sheet_of(file, "test,commanded deg,angle deg\nturn,90,91\n").turns] == [0.5]
    read = sheet_of(file, "test,commanded deg,angle deg\nturn,90,91\nturn,90,89.7\n")
    assert [test.protractor for test in read.turns] == [0.1, 0.1]
    assert "89.7 on line 3: taken as read to 0.1 degrees" in read.notes[0]
    read = sheet_of(file, "test,commanded deg,angle deg,protractor deg\nturn,90,91,1\n")
    assert ([test.protractor for test in read.turns], read.notes) == ([1.0], ())


def test_jigs_whose_names_differ_by_case_are_one(file: Path) -> None:
    text = (
        "test,jig,along mm,across mm\nplacing,corner block,1,1\nplacing,corner block,1,1\nplacing,Corner  Block,1,1\n"
    )
    read = sheet_of(file, text)
    assert {test.jig for test in read.placings} == {"corner block"}
    assert read.notes == ("the jig 'Corner  Block' is taken as 'corner block'",)


# --- mistakes ----------------------------------------------------------------------------------------------------

S = "test,commanded mm,travel mm,sideways mm,speed mm/s,note\n"
T = "test,commanded deg,angle deg,near mm,far mm,side mm\n"
Q = "test,side mm,direction,return x mm,return y mm\n"
D = "test,date,result\n"
MISTAKES = {
    # the header
    "unknown column": ("test,¦travl mm\n", "'travl mm' is no column of a test sheet", "did you mean 'travel mm'?"),
    "unknown column with its value": ("test,result,¦height\ndrop,pass,3\n", "'height' is no column", "date, test"),
    "a unit that is not the column's": ("test,¦travel kg\n", "'travel kg' is no column", "'travel mm'?"),
    "a column twice by its unit": ("test,travel mm,¦travel cm\n", "the column 'travel mm' stands here again", "one of"),
    "column twice": ("test,result,¦Result\ndrop,pass,fail\n", "the column 'result' stands here again", "one of"),
    "no column test": ("¦commanded mm,travel mm\n5,6\n", "the header lacks the column 'test'", "date, test"),
    "no header": ("¦straight,500,498\nstraight,500,499\n", "the header is missing", "date, test, heading from"),
    "another separator": ("¦test|commanded mm|travel mm\nstraight|5|6\n", "the header is missing", "semicolon or tab"),
    "a log for a sheet": ("¦date,run,result\n,a,through\n", "this is a log, but a test sheet is wanted", ""),
    "the header again": (f"{D}drop,,pass\n¦{D}drop,,pass\n", "the header stands here again", "delete this row"),
    "an open quote in the header": ('test,¦"result\ndrop,pass\n', "never closed", '""'),
    # rows
    "too many cells": (f"{D}drop,,pass,¦3\n", "has 4 cells, but the header names 3", "needs quotes"),
    "too many empty cells where commas separate": (f"{S}straight,500,498,5,,,¦\n", "has 7 cells, but", '"12,5"'),
    "too many cells where tabs separate": ("test\tresult\ndrop\tpass\t\t¦3\n", "has 4 cells", "delete"),
    "a column without a name": ("test,,result\ndrop,¦3,pass\n", "'3' stands in a column without a name", "name it"),
    "an open quote": (f'{D}drop,,pass\ndrop,,¦"pass\ndrop,,pass\n', "a quote is opened here and never closed", '""'),
    "more after a quote": (f'{D}drop,,"pa"¦ss"\ndrop,,pass\n', "something after a quoted cell's end", '""'),
    "more after an earlier line's quote": (f'{D}drop,,"pass\ndrop,,"¦pass"\n', "opened on line 2", '""'),
    "a failed formula is no comment": ("test,result\n¦#REF!,pass\n", "'test' is '#REF!'", ""),
    # kinds of test
    "no test": (f"{D},¦2026-11-25,pass\n", "'test' is empty in this row; accepted: straight | turn", ""),
    "unknown test": (f"{D}¦dorp,,pass\n", "'test' is 'dorp'; accepted: straight | turn | square path", "'drop'?"),
    "another kind's column": (
        "test,commanded mm,result\ndrop,¦5,pass\n",
        "'commanded mm' does not belong to a drop test, found '5'",
        "the columns of a drop test: date, test, tape mm, result, came off, note",
    ),
    "a needed cell is empty": (f"{S}straight,500,¦,3\n", "'travel mm' is empty; a straight test needs it", "How far"),
    "a needed cell is left out": (f"{D}¦drop\n", "'result' is empty in this row; a drop test needs it", "hold"),
    "a needed column is not there": ("test,note\n¦drop,\ndrop,\n", "needs the column 'result', which the header", ""),
    "direction": (f"{Q}square path,800,¦left,1,2\n", "'direction' is 'left'; accepted: cw | ccw", ""),
    "a long way from the start": (f"{Q}square path,800,cw,1,¦-900\n", "more than the square's side", "where the robot"),
    # numbers
    "no number": (f"{S}straight,500,¦about 500\n", "must be a length, found 'about 500'", "such as 420 or 42 cm"),
    "not a number": (f"{S}straight,500,¦nan\n", "'travel mm' must be a length, found 'nan'", "such as 420"),
    "infinite": (f"{S}straight,500,¦-inf\n", "must be a length, found '-inf'", "such as 420"),
    "a formula": (f"{S}straight,500,¦=A1+B2\n", "must be a length, found '=A1+B2'", "such as"),
    "digits of another script": (f"{S}straight,500,¦\u0665\u0660\u0660\n", "must be a length", ""),
    "too many digits": (f"{S}straight,500,¦{'9' * 400}\n", "is far too long for a number", ""),
    "an exponent": (f"{S}straight,500,¦4.98E+02\n", "is written with an E", "write 498"),
    "two numbers": (f"{S}straight,500,¦498 5\n", "which is not one number", ""),
    "thousands with blanks": (f"{S}straight,1500,¦1 498\n", "has marks between its thousands", "write 1498"),
    "thousands with apostrophes": (f"{S}straight,1500,¦1'498.5\n", "between its thousands", "write 1498.5"),
    "thousands and decimals": ("test;commanded mm;travel mm\nstraight;1500;¦1.498,5\n", "thousands", "write 1498.5"),
    "a comma that may part thousands": (f'{S}straight,1500,¦"1,498"\n', "a comma that may part thousands", "1498, or"),
    "a point that may part thousands": (
        "test;commanded mm;travel mm;sideways mm\nstraight;1500;¦1.498;2,5\n",
        "a point that may part thousands",
        "write 1498, or 1.498 if",
    ),
    "unknown unit": (f"{S}straight,500,¦498 furlongs\n", "has the unit 'furlongs'", "accepted units: mm, cm, m, in"),
    "wrong unit": (f"{S}straight,500,498,¦3 deg\n", "has the unit 'deg', which is not known here", "mm, cm"),
    "wrong unit of speed": (f"{S}straight,500,498,,¦20 cm\n", "'speed mm/s' must be a speed", "mm/s, cm/s"),
    "a length for an angle": (f"{T}turn,90,¦91 mm\n", "'angle deg' must be an angle", "deg, degrees"),
    "too large": (f"{S}straight,¦50000,498\n", "'commanded mm' is 50000 mm; accepted: -20000 to 20000 mm", ""),
    "nothing commanded": (f"{S}straight,¦0,0\n", "'commanded mm' is 0 mm", ""),
    "no speed": (f"{S}straight,500,498,,¦-200\n", "'speed mm/s' is -200 mm/s; accepted: more than 0 mm/s", ""),
    "a slip": (f"{S}straight,500,¦4980\n", "is 4980 mm, far from the 500 mm commanded", "look for a slip"),
    "centimetres": (f"{S}straight,500,¦49.8\n", "is 49.8 mm, far from the 500 mm commanded", "did you mean 49.8 cm?"),
    "forwards": (f"{S}straight,-500,¦498\n", "is 498 mm, far from the -500 mm", "did you mean -498?"),
    "sideways": (f"{S}straight,500,498,¦600\n", "is 600 mm, more than the 498 mm of travel", "square to the line"),
    # turns
    "left": (f"{T}turn,-90,¦88\n", "is 88 degrees, far from the -90 degrees", "turning right counts negative"),
    "no angle": (f"{T}turn,90,¦,,,\n", "'angle deg' is empty; a turn test needs it", "near and far"),
    "an angle both ways": (f"{T}turn,90,91,¦50,54,160\n", "is given, but so is the angle", "write the angle, or"),
    "near alone": (f"{T}turn,90,,50,¦,160\n", "'far mm' is empty; near, far and side belong together", "takes away"),
    "askew": (f"{T}turn,90,,50,¦200,160\n", "differ by 150 mm over a side of 160 mm", "the one that faces the wall"),
    "by tape at an odd angle": (f"{T}turn,¦45,,50,54,160\n", "45 from a whole number of quarter turns", "90 degrees"),
    "by tape far from the command": (f"{T}turn,15,,54,¦50,160\n", "makes the turn -1.4", ""),
    # dates
    "month first": (f"{D}drop,¦11/25/2026,pass\n", "is '11/25/2026', which may begin", "-day: 2026-11-25"),
    "either first": (f"{D}drop,¦05/06/2026,pass\n", "which may begin", "2026-05-06 or 2026-06-05, whichever"),
    "either first, in many rows": (
        f"{D}drop,¦05/06/2026,pass\n" + "drop,05/07/2026,pass\n" * 40, "is '05/06/2026'", "40 more rows"
    ),
    "month first with dots": (f"{D}drop,¦11.25.2026,pass\n", "a day that no calendar has", "day.month.year"),
    "a spreadsheet's number": (f"{D}drop,¦46351,pass\n", "must be a date", "show the column as year-month-day"),
    "two digits of a year": (f"{D}drop,¦25.11.26,pass\n", "which may begin", "such as 2026-11-25"),
    "no such day": (f"{D}drop,¦2026-02-30,pass\n", "a day that no calendar has", "2026-11-25"),
    "long ago": (f"{D}drop,¦1926-11-25,pass\n", "'date' is 1926-11-25; accepted: the years 2000 to 2099", ""),
    "no date": (f"{D}drop,¦yesterday,pass\n", "must be a date, year-month-day, such as 2026-11-25, found", ""),
    # texts
    "a long note": (f"test,result,note\ndrop,pass,¦{'n' * 2001}\n", "has 2001 characters; accepted: up to 2000", ""),
    "a name in two lines": ('test,along mm,across mm,jig\nplacing,1,2,¦"a\nb"\n', "cannot be printed in a line", ""),
    "only comments": ("¦# test,result\n", "the header is missing: there are only comments", "date, test"),
    "nothing": ("¦", "the file is empty", "its first line must name the columns"),
    "nothing but blanks": ("¦ \n\n", "the file is empty", ""),
    "a character of no text": ("test,result\ndrop,pa¦\x07ss\n", "has a character (number 7)", "UTF-8"),
}  # fmt: skip

R = "run,result,where,segment,target,miss mm,seconds s\n"
LOG_MISTAKES = {
    "no result": ("¦run,note\na,b\n", "the header lacks the column 'result'", "date, run, result"),
    "no run": (f"{R}¦,through\n", "'run' is empty; a log needs it", "its name or its file"),
    "result": (f"{R}a,¦trough\n", "'result' is 'trough'; accepted: through | touched | missed | stopped", "'through'?"),
    "touched nothing": (f"{R}a,touched,¦,3\n", "'where' is empty, but the run touched something", "name the obstacle"),
    "through and touched": (f"{R}a,through,¦mill\n", "names a place, but a run that went through", "leave it empty"),
    "a miss of nothing": (f"{R}a,through,,,¦,4\n", "'target' is empty, but a miss was measured", "name the target"),
    "a part of a segment": (f"{R}a,stopped,,¦2.5\n", "'segment' must be a whole number, found 2.5", "such as 3"),
    "no segment": (f"{R}a,stopped,,¦two\n", "'segment' must be a whole number, found 'two'", "such as 3"),
    "segment 0": (f"{R}a,stopped,,¦0\n", "'segment' is 0; accepted: 1 to 1000", ""),
    "segment with a unit": (f"{R}a,stopped,,¦3 mm\n", "which has a unit", "write the number alone: 3"),
    "a negative miss": (f"{R}a,missed,,,lever,¦-4\n", "'miss mm' is -4 mm; accepted: 0 to 2000 mm", ""),
    "minutes": (f"{R}a,through,,,,,¦1:23\n", "which is hours or minutes", "write seconds: 83"),
    "a time of day": (f"{R}a,through,,,,,¦00:01:23\n", "which is hours or minutes", "write seconds: 83"),
    "a sheet for a log": ("¦date,test,travel mm\n", "this is a test sheet, but a log is wanted here", ""),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_mistakes_of_a_sheet(name: str, file: Path) -> None:
    text, message, hint = MISTAKES[name]
    assert_one(file, text, message, hint)


@pytest.mark.parametrize("name", LOG_MISTAKES)
def test_mistakes_of_a_log(name: str, file: Path) -> None:
    text, message, hint = LOG_MISTAKES[name]
    assert_one(file, text, message, hint, load_log)


def test_all_mistakes_at_once_in_order_of_place(file: Path) -> None:
    file.write_text(f"{S}straight,x,y,z\nturn,5\nstraight,500,49.8,1 kg,0\n")
    places = [(problem.line, problem.column) for problem in assert_refused(file, load_sheet)]
    # A turn lacks its command, its angle, and has no 'commanded mm'; the rules are asked of what could be read.
    assert places == [(2, 10), (2, 12), (2, 14), (3, 1), (3, 1), (3, 6), (4, 14), (4, 19), (4, 24)]


def test_a_misspelt_header_does_not_spoil_every_row(file: Path) -> None:
    assert_one(file, "test,commanded mm,¦travl mm\n" + "straight,500,498\n" * 5, "'travl mm' is no column")


def test_a_problem_shows_its_line_and_points_at_the_cell(file: Path) -> None:
    file.write_text('test;note;travel mm\nstraight;"a;b\nc";wide\n')
    shown = str(assert_refused(file, load_sheet)[-1])
    assert '  3 | c";wide\n    |    ^^^^\n' in shown
    assert ":3:4: 'travel mm' must be a length, found 'wide'" in shown


def test_endless_mistakes_end(file: Path) -> None:
    file.write_text("test\n" + "x\n" * 1000)
    problems = assert_refused(file, load_sheet)
    assert len(problems) == MOST_PROBLEMS + 1
    assert "more than 100 mistakes" in problems[-1].message


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"PK\x03\x04\x14\x00", "a spreadsheet's own file, not CSV"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "a spreadsheet's own file, not CSV"),
        (b"%PDF-1.7", "this is a PDF"),
        (b"\x89PNG\r\n\x1a\n\1\2\3\r", "a character (number 26) that does not belong in a text"),
        (b"\xff\xfet\x00e", "no text"),
        (b"\xff\xfe\x00\xd8t\x00", "no text"),
        (b"test\r\nd\x81op", "no text from here on"),
        (b"test,note\n" + b"#" * MOST_BYTES, "larger than 200 kB"),
    ],
)
def test_files_that_are_no_text_or_too_much_of_it(data: bytes, message: str, file: Path) -> None:
    file.write_bytes(data)
    (problem,) = assert_refused(file, load_sheet)
    assert message in problem.message


def test_the_place_where_a_text_ends_being_one(file: Path) -> None:
    file.write_bytes(b"test\r\nd\x81op")
    (problem,) = assert_refused(file, load_sheet)
    assert (problem.line, problem.column) == (2, 2)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    (folder,) = assert_refused(tmp_path, load_sheet)
    assert folder.message == "this is a folder, not a file"
    (tmp_path / "tests.csv").write_text(SMALL)
    (missing,) = assert_refused(tmp_path / "test.csv", load_sheet)
    assert (missing.message, missing.hint) == ("there is no such file", "did you mean 'tests.csv'?")
    (missing,) = assert_refused(tmp_path / "tests.cvs", load_sheet)
    assert missing.hint == "did you mean 'tests.csv'?"
    # The same ending is no likeness, and only a table can be meant.
    (tmp_path / "measured.yaml").write_text("")
    for far in ("robot.csv", "log.csv", "measured.csv"):
        (missing,) = assert_refused(tmp_path / far, load_sheet)
        assert missing.hint == ""
    (name,) = assert_refused("a\0b", load_log)
    assert name.message == "the file cannot be read: its name cannot be a file's name"


def test_a_row_as_long_as_a_file_may_be(file: Path) -> None:
    row = '"a",' * ((MOST_BYTES - 20) // 4)
    file.write_text(f"test,note\ndrop,{row}")
    (problem,) = assert_refused(file, load_sheet)
    assert "cells, but the header names 2" in problem.message
    file.write_text(row[:40_000])
    (problem,) = assert_refused(file, load_sheet)
    assert "the header is missing" in problem.message


def test_the_longest_cell_and_the_longest_empty_row(file: Path) -> None:
    file.write_text('test,note\ndrop,"' + "n" * (MOST_BYTES - 20) + '"')
    assert assert_refused(file, load_sheet)
    file.write_text("test,note\n" + "," * (MOST_BYTES - 20))
    assert load_sheet(file) == Sheet()


@pytest.mark.parametrize(
    "make",
    [
        lambda: StraightTest(line=1, commanded=500.0, travel=-500.0),
        lambda: StraightTest(line=0, commanded=500.0, travel=500.0),
        lambda: StraightTest(line=1, date=datetime.datetime(2026, 11, 25), commanded=500.0, travel=500.0),
        lambda: TurnTest(line=1, commanded=90.0),
        lambda: DropTest(line=1, result="pass", note=3),  # type: ignore[arg-type]
        lambda: LogEntry(line=1, run="a", result="touched"),
        lambda: Sheet((LogEntry(line=1, run="a", result="through"),)),  # type: ignore[arg-type]
    ],
)
def test_values_made_in_python_are_checked_too(make: Callable[[], Any]) -> None:
    with pytest.raises(PlanError):
        make()


# --- whatever is written reads back ------------------------------------------------------------------------------


def numbers(least: float, most: float) -> st.SearchStrategy[float]:
    """With no more digits than a team writes."""
    return st.integers(round(least * 100), round(most * 100)).map(lambda value: value / 100)


TEXTS = st.text("abcZ09 ,;\t\n\"'=+-@.äß€", max_size=12).map(str.strip)
NAMES = st.from_regex(r"[a-z=@+\"][a-zA-Z0-9 ,;äß]{0,8}[a-z0-9]", fullmatch=True)
COMMON: dict[str, st.SearchStrategy[Any]] = {
    "line": st.just(1),
    "date": st.none() | st.dates(datetime.date(2000, 1, 1), datetime.date(2099, 12, 31)),
    "note": TEXTS,
}
TAPE: dict[str, st.SearchStrategy[Any]] = {"tape": st.sampled_from([0.5, 1.0, 2.0])}
ANGLE: dict[str, st.SearchStrategy[Any]] = {"protractor": st.sampled_from([0.1, 0.5, 1.0])}
SPEED, TURN_SPEED = st.none() | numbers(1, 900), st.none() | numbers(1, 300)
HEADING = st.none() | numbers(-20, 20)
HEADING_FROM: st.SearchStrategy[Any] = st.sampled_from(["wheels", "gyro"])


@st.composite
def by_tape(draw: st.DrawFn) -> TurnTest:
    near, side = draw(numbers(10, 90)), draw(numbers(100, 300))
    return TurnTest(
        **draw(st.fixed_dictionaries({**COMMON, **TAPE, **ANGLE})),
        commanded=draw(st.sampled_from([90.0, -90.0, 180.0, -450.0, 85.0])),
        near=near,
        far=round(near + draw(st.integers(-5, 5)), 2),
        side=side,
        turn_speed=draw(TURN_SPEED),
        heading_from=draw(HEADING_FROM),
    )


@st.composite
def straights(draw: st.DrawFn) -> StraightTest:
    commanded = draw(numbers(100, 3000)) * draw(st.sampled_from([1, -1]))
    return StraightTest(
        **draw(st.fixed_dictionaries({**COMMON, **TAPE, **ANGLE})),
        commanded=commanded,
        travel=round(commanded * draw(st.sampled_from([0.98, 1.0, 1.013])), 2),
        sideways=draw(st.none() | numbers(-50, 50)),
        heading=draw(HEADING),
        speed=draw(SPEED),
        heading_from=draw(HEADING_FROM),
    )


TESTS = st.one_of(
    straights(),
    by_tape(),
    st.builds(
        TurnTest, **COMMON, **TAPE, **ANGLE, commanded=numbers(80, 100), angle_read=numbers(80, 100),
        turn_speed=TURN_SPEED, heading_from=HEADING_FROM,
    ),
    st.builds(
        SquarePathTest, **COMMON, **TAPE, **ANGLE, side=numbers(300, 1500), direction=st.sampled_from(["cw", "ccw"]),
        return_x=numbers(-99, 99), return_y=numbers(-99, 99), heading=HEADING, speed=SPEED, turn_speed=TURN_SPEED,
        heading_from=HEADING_FROM,
    ),
    st.builds(
        ThereAndBackTest, **COMMON, **TAPE, **ANGLE, commanded=numbers(100, 900), return_x=numbers(-49, 49),
        return_y=numbers(-49, 49), heading=HEADING, speed=SPEED, heading_from=HEADING_FROM,
    ),
    st.builds(
        PlacingTest, **COMMON, **TAPE, **ANGLE, along=numbers(-9, 9), across=numbers(-9, 9), heading=HEADING,
        jig=st.none() | NAMES,
    ),
    st.builds(
        SquareTest, **COMMON, **TAPE, **ANGLE, face=st.sampled_from(["front", "rear"]), angle=numbers(1, 20),
        along=st.none() | numbers(-5, 40), heading=HEADING, result=st.sampled_from(["pass", "fail"]),
    ),
    st.builds(DropTest, **COMMON, **TAPE, result=st.sampled_from(["pass", "fail"]), came_off=TEXTS),
)  # fmt: skip
ENTRIES = st.builds(
    LogEntry, **COMMON, run=NAMES, result=st.sampled_from(["touched", "missed", "stopped"]), where=NAMES,
    segment=st.none() | st.integers(1, 60), target=NAMES, miss=st.none() | numbers(0, 99),
    seconds=st.none() | numbers(1, 150),
)  # fmt: skip
COLUMNS = {
    "commanded mm": "commanded", "travel mm": "travel", "sideways mm": "sideways", "heading deg": "heading",
    "speed mm/s": "speed", "turn speed deg/s": "turn_speed", "heading from": "heading_from", "date": "date",
    "commanded deg": "commanded", "angle deg": "angle_read", "near mm": "near", "far mm": "far", "side mm": "side",
    "direction": "direction", "return x mm": "return_x", "return y mm": "return_y", "jig": "jig", "face": "face",
    "along mm": "along",
    "across mm": "across", "tape mm": "tape", "protractor deg": "protractor",
    "photo mm": "photo", "photo deg": "photo_angle",
    "result": "result", "came off": "came_off", "note": "note",
    "run": "run", "where": "where", "segment": "segment", "target": "target", "miss mm": "miss", "seconds s": "seconds",
}  # fmt: skip
WORDS = {
    StraightTest: "straight", TurnTest: "turn", SquarePathTest: "square path", ThereAndBackTest: "there and back",
    PlacingTest: "placing", SquareTest: "square", DropTest: "drop",
}  # fmt: skip
SHEET_COLUMNS = re.findall("^date,test.*", blank_sheet(), re.MULTILINE)[0].split(",")
LOG_COLUMNS = re.findall("^date,run.*", blank_log(), re.MULTILINE)[0].split(",")


def cell_of(record: Any, column: str, mark: str) -> str:
    """How a record's attribute is written."""
    if column == "test":
        return WORDS[type(record)]
    other = {StraightTest: "commanded deg", ThereAndBackTest: "commanded deg", TurnTest: "commanded mm"}.get(
        type(record)
    )
    value = None if column == other else getattr(record, COLUMNS[column], None)
    if column == "angle deg" and isinstance(record, SquareTest):
        value = record.angle
    if isinstance(value, float):
        return f"{value:.2f}".replace(".", mark)
    return "" if value is None else str(value)


def written(records: Sequence[Any], columns: Sequence[str], separator: str, mark: str, everything: bool) -> str:
    text = io.StringIO()
    writer = csv.writer(
        text,
        delimiter=separator,
        quoting=csv.QUOTE_ALL if everything else csv.QUOTE_MINIMAL,
        lineterminator="\n",
    )
    writer.writerow(columns)
    for record in records:
        writer.writerow([cell_of(record, column, mark) for column in columns])
    return text.getvalue()


def with_lines(records: Sequence[Any], columns: Sequence[str]) -> tuple[Any, ...]:
    """The same, each with the line that it is written on."""
    made, line = [], 2
    for record in records:
        made.append(replace(record, line=line))
        line += 1 + sum(cell_of(record, column, ".").count("\n") for column in columns)
    return tuple(made)


@settings(max_examples=examples(60))
@given(data=st.data())
def test_what_is_written_reads_back(file: Path, data: st.DataObject) -> None:
    sheet = data.draw(st.booleans())
    records = data.draw(st.lists(TESTS if sheet else ENTRIES, min_size=1, max_size=5))
    columns = list(SHEET_COLUMNS if sheet else LOG_COLUMNS)
    Random(data.draw(st.integers(0, 9999))).shuffle(columns)
    separator, mark = data.draw(st.sampled_from(sorted(SEPARATORS))), data.draw(st.sampled_from(".,"))
    text = written(records, columns, separator, mark, data.draw(st.booleans()))
    end = data.draw(st.sampled_from(["\n", "\r\n", "\r"]))
    encoding = data.draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-be", "cp1252"]))
    file.write_bytes(text.replace("\n", end).encode(encoding))
    read = load_sheet(file).tests if sheet else load_log(file).entries
    assert read == with_lines(records, columns)


# --- whatever is spoilt is said ----------------------------------------------------------------------------------

NASTY = [
    "", " ", '"', '""', '"""', "'", ",", ";", "\t", "\n", "\r", "\0", "\x0c", "#", "# ", "#N/A", "=", "-", "+", "@",
    ".", "nan", "inf", "1e999", "9" * 400, "1,5", "1.500", "1,500", "1 500", "1.500,5", "-0", "0", "5 cm", "5 kg",
    "5 \u202e", "2026-13-45", "00/00/0000", "31.12.9999", "99999999", "1:23", "\u202e", "\ufeff", "\u2028", "\x85",
    "\u0663", "\U0001f35e", "sep=;", "sep=,", "test", "date", "note", "straight", "turn", "square path", "drop",
    "touched", "commanded mm", "n" * 300,
]  # fmt: skip
GOOD = {
    "sheet": re.sub("^#(?=[0-9])", "", blank_sheet(), flags=re.MULTILINE),
    "log": re.sub("^#(?=[0-9])", "", blank_log(), flags=re.MULTILINE).replace(",", ";"),
}


def outcome(file: Path, kind: str) -> Sheet | Log | FileError:
    try:
        return load_sheet(file) if kind == "sheet" else load_log(file)
    except FileError as wrong:
        return wrong


def assert_reads_or_says(file: Path, kind: str, content: bytes) -> None:
    """A file of this content becomes values, or a FileError whose text a terminal can show."""
    file.write_bytes(content)
    made = outcome(file, kind)
    if not isinstance(made, FileError):
        assert isinstance(made, Sheet if kind == "sheet" else Log)
        return
    assert made.problems
    assert all(problem.line >= 1 and problem.column >= 1 and problem.message for problem in made.problems)
    unsafe = [c for c in str(made) if category(c) in {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"} and c != "\n"]
    assert unsafe == []


@settings(max_examples=examples(100))
@given(data=st.data())
def test_files_damaged_by_chance(file: Path, data: st.DataObject) -> None:
    kind = data.draw(st.sampled_from(sorted(GOOD)))
    content = GOOD[kind].encode()
    for _ in range(data.draw(st.integers(1, 3))):
        lines = content.split(b"\n")
        at = data.draw(st.integers(0, len(lines) - 1))
        token = data.draw(st.sampled_from(NASTY)).encode()
        place = data.draw(st.integers(0, len(content)))
        match data.draw(st.sampled_from(["byte", "token", "delete", "double", "cell", "cut"])):
            case "byte":
                content = content[:place] + bytes([data.draw(st.integers(0, 255))]) + content[place + 1 :]
                continue
            case "token":
                content = content[:place] + token + content[place:]
                continue
            case "cut":
                content = content[:place]
                continue
            case "delete":
                del lines[at]
            case "double":
                lines.insert(at, lines[at])
            case "cell":
                mark = b"," if kind == "sheet" else b";"
                cells = lines[at].split(mark)
                cells[data.draw(st.integers(0, len(cells) - 1))] = token
                lines[at] = mark.join(cells)
        content = b"\n".join(lines)
    assert_reads_or_says(file, kind, content)


@pytest.mark.parametrize("column", [*SHEET_COLUMNS, "seconds s", "segment", "where"])
def test_nasty_values_in_every_column(column: str, file: Path) -> None:
    kind, columns = ("sheet", SHEET_COLUMNS) if column in SHEET_COLUMNS else ("log", LOG_COLUMNS)
    header = ",".join(columns)
    rows = re.findall("^2026.*", GOOD[kind].replace(";", ","), re.MULTILINE)
    for number, value in enumerate(NASTY[columns.index(column) % 3 :: 3]):
        cells = rows[number % len(rows)].split(",")
        cells[columns.index(column)] = value
        assert_reads_or_says(file, kind, f"{header}\n{','.join(cells)}\n".encode())


@settings(max_examples=examples(60))
@given(content=st.binary(max_size=200))
def test_any_bytes(file: Path, content: bytes) -> None:
    assert_reads_or_says(file, "sheet", content)
