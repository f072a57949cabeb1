"""Undo and redo against a plain list of states, and by hand."""

from __future__ import annotations

from examples import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from fieldsim.window.history import History

MOVES = st.lists(st.one_of(st.integers(0, 5), st.sampled_from(["undo", "redo", "saved"])), max_size=60)


@settings(max_examples=examples(200))
@given(MOVES)
def test_it_does_what_a_list_and_a_finger_in_it_do(moves: list[int | str]) -> None:
    history, states, at, kept = History.begun(0), [0], 0, 0
    for move in moves:
        if move == "undo":
            history, at = history.undo(), max(0, at - 1)
        elif move == "redo":
            history, at = history.redo(), min(len(states) - 1, at + 1)
        elif move == "saved":
            history, kept = history.saved(), states[at]
        elif isinstance(move, int) and move != states[at]:
            history, states = history.push(move, f"to {move}"), [*states[: at + 1], move]
            at += 1
        elif isinstance(move, int):
            assert history.push(move, "nothing") is history
        assert history.state == states[at]
        assert history.dirty == (states[at] != kept)
        assert history.undo_words == (f"to {states[at]}" if at else None)
        assert history.redo_words == (f"to {states[at + 1]}" if at + 1 < len(states) else None)
    for _ in moves:
        history = history.undo()
    assert history.state == 0
    for _ in states:
        history = history.redo()
    assert history.state == states[-1]


def test_a_drag_is_one_step() -> None:
    history = History.begun("a").push("b", "typed")
    for state in "cdefg":
        history = history.push(state, f"dragged to {state}", drag="first")
    assert (history.state, history.undo_words, len(history.steps)) == ("g", "dragged to g", 3)
    assert history.undo().state == "b"
    assert history.undo().redo().state == "g"
    history = history.push("h", "dragged", drag="second")
    assert history.undo().state == "g"


def test_a_drag_that_comes_back_is_no_step() -> None:
    history = History.begun("a").push("b", "dragged", drag=1).push("c", "dragged", drag=1).push("a", "dragged", drag=1)
    assert history.undo_words is None
    assert not history.dirty
    # It goes on all the same, as one step.
    history = history.push("d", "dragged", drag=1).push("e", "dragged", drag=1)
    assert history.undo().state == "a"
    assert history.undo().undo().state == "a"


def test_a_pause_within_a_drag_is_no_step() -> None:
    history = History.begun("a").push("b", "dragged", drag=1)
    assert history.push("b", "dragged", drag=1) == history


def test_a_drag_after_an_undo_begins_anew() -> None:
    history = History.begun("a").push("b", "dragged", drag=1).push("c", "typed").undo().push("d", "dragged", drag=1)
    assert history.undo().state == "b"
    assert history.redo_words is None


def test_an_undo_in_the_middle_of_a_drag_ends_its_step() -> None:
    history = History.begun("a").push("b", "dragged", drag=1).undo().push("c", "dragged", drag=1)
    assert (history.state, history.undo().state) == ("c", "a")
    again = History.begun("a").push("b", "dragged", drag=1).undo().redo().push("c", "dragged", drag=1)
    assert (again.undo().state, again.undo().undo().state) == ("b", "a")


def test_a_save_within_a_drag_can_be_come_back_to() -> None:
    history = History.begun("a").push("b", "dragged", drag=1).saved().push("c", "dragged", drag=1)
    assert history.dirty
    assert not history.undo().dirty


def test_no_limit() -> None:
    history = History.begun(0)
    for n in range(1, 5001):
        history = history.push(n, f"{n}")
    for _ in range(5000):
        history = history.undo()
    assert history.state == 0
    assert history.redo_words == "1"
