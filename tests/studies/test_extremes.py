"""Values that are allowed and far out: answers without a warning (the suite turns every warning into an error)."""

from __future__ import annotations

from dataclasses import replace

import pytest
from plans import robot
from plans import run as driven_along

from fieldsim.cards.run.card import make_card
from fieldsim.cards.run.text import card_text
from fieldsim.model import Straight, Turn
from fieldsim.studies.attempt import KEPT, attempt
from fieldsim.studies.tally import LONGEST


@pytest.mark.parametrize("speed", [1e-6, 1e-20, 1e-150, 1e-300])
def test_a_robot_that_hardly_moves(speed: float) -> None:
    box = robot()
    slow = replace(box, drive=replace(box.drive, speed=speed, turn_speed=speed))
    tried = attempt(replace(driven_along(Straight(300.0), Turn(90.0)), robot=slow), trials=50, seed=1, keep=KEPT)
    time = tried.answer.time
    # At steady speed 300 mm take 300/speed s; the way of the turn only adds to that.
    assert time.nominal >= 300.0 / speed
    assert time.mean == pytest.approx(min(time.nominal, LONGEST), rel=1e-6)
    assert time.p95 == pytest.approx(min(time.nominal, LONGEST), rel=1e-6)
    assert card_text(make_card(tried))
