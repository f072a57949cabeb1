"""Proof that nothing gets through: only where it is so, with the narrow place named."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scenes import PERFECT, gap, scene, task

from fieldsim.model import Target
from fieldsim.planning.nothing_through import nothing_through


@pytest.mark.parametrize("width", [60.0, 100.0, 138.0])
def test_a_gap_narrower_than_the_body_is_refused_with_its_width_and_place(width: float) -> None:
    proof = nothing_through(task(gap(width)))
    assert proof is not None
    assert proof.to == "bell"
    # The curves' corners are cut, so it is told a little too wide, never too narrow.
    assert width - 0.6 <= proof.widest <= width + 1.0
    assert proof.needs == 140.0
    assert set(proof.between) == {"south", "north"}
    assert proof.at == pytest.approx((800.0, 500.0), abs=60.0)


@pytest.mark.parametrize("width", [140.0, 141.0, 300.0])
def test_a_gap_that_lets_a_disc_through_is_not_refused(width: float) -> None:
    assert nothing_through(task(gap(width))) is None


def test_a_field_cut_in_two_is_closed_all_round() -> None:
    proof = nothing_through(task(scene(("wall", 760.0, 0.0, 840.0, 1000.0))))
    assert proof is not None
    assert proof.widest == pytest.approx(0.0, abs=0.6)


def test_a_target_inside_a_thing_is_out_of_reach_unless_the_thing_may_be_touched() -> None:
    field = scene(("chest", 1000.0, 400.0, 1600.0, 1000.0), targets=(Target("bell", (1300.0, 700.0), 10.0),))
    assert nothing_through(task(field)) is not None
    assert nothing_through(replace(task(field), may_touch=("chest",))) is None


def test_a_low_thing_is_no_wall() -> None:
    field = scene(("wall", 760.0, 0.0, 840.0, 1000.0))
    low = replace(field, obstacles=(replace(field.obstacles[0], height=(0.0, 5.0)),))
    high = replace(PERFECT, body=replace(PERFECT.body, height=(8.0, 100.0)))
    assert nothing_through(task(low, high)) is None
