"""A key that is held: only what nudges repeats, by the window's clock, and never for presses of a slow frame."""

from __future__ import annotations

from fieldsim.window.keys import FIELD_KEYS, MATCH_KEYS, NUDGES, RUN_KEYS, SEASON_KEYS
from fieldsim.window.repeat import FIRST, NEXT, HeldKey


def test_a_held_key_nudges_after_a_while_and_then_evenly() -> None:
    held = HeldKey()
    held.down("page up", repeats=True)
    assert held.due(10.0) is None
    assert held.due(10.0 + 0.9 * FIRST) is None
    assert held.due(10.0 + FIRST) == "page up"
    assert held.due(10.0 + FIRST + 0.9 * NEXT) is None
    assert held.due(10.0 + FIRST + NEXT) == "page up"


def test_a_slow_frame_makes_up_for_nothing() -> None:
    held = HeldKey()
    held.down("page up", repeats=True)
    held.due(0.0)
    # Five seconds in one frame: one nudge, and the next one not at once.
    assert held.due(5.0) == "page up"
    assert held.due(5.0 + 0.5 * NEXT) is None


def test_what_is_let_go_or_does_not_nudge_is_silent() -> None:
    held = HeldKey()
    held.down("n", repeats=False)
    assert [held.due(now) for now in (0.0, 1.0, 2.0)] == [None] * 3
    held.down("page up", repeats=True)
    held.due(0.0)
    held.up()
    assert held.due(9.0) is None
    # Another key that goes down ends it too.
    held.down("page up", repeats=True)
    held.due(0.0)
    held.down("n", repeats=False)
    assert held.due(9.0) is None


def test_only_nudges_repeat() -> None:
    known = {key.action for key in (*RUN_KEYS, *FIELD_KEYS, *MATCH_KEYS, *SEASON_KEYS)}
    assert known >= NUDGES
    assert not NUDGES & {"add", "copy", "remove", "undo", "save", "play", "quit", "next jig", "earlier", "later"}
