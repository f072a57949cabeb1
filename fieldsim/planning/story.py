"""A proposed run in a sentence: where it goes, what it squares on, what it stands or falls with."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from fieldsim.language import tr
from fieldsim.model import WALLS, Act, Square
from fieldsim.sim.plan import Plan
from fieldsim.sim.trials import nominal

# A thing this near is worth a word, mm; and of those no more than so many.
NARROW, MOST = 30.0, 2


def story(ready: Plan) -> str:
    """'Sets its back on left wall, passes milk churn with 21 mm to spare, then comes to flour lid.'"""
    parts = list(_parts(ready))
    if len(parts) > 1:
        parts[-1] = tr("then {what}", what=parts[-1])
    sentence = ", ".join(parts)
    return tr("{sentence}.", sentence=sentence[:1].upper() + sentence[1:])


def _parts(ready: Plan) -> Iterator[str]:
    run = ready.run
    planned = nominal(ready)
    gap, where = planned.clearance[0], planned.tightest[0]
    near = [
        (float(gap[k]), int(where[k]), ready.solids[int(planned.obstacles[k])].name)
        for k in np.flatnonzero((gap > 0.0) & (gap < NARROW))
        if ready.solids[int(planned.obstacles[k])].name not in WALLS
    ]
    passed = {number: (room, thing) for room, number, thing in sorted(near)[:MOST][::-1]}
    for number, segment in enumerate(run.segments, start=1):
        if isinstance(segment, Square):
            if segment.face == "rear":
                yield tr("sets its back on {thing}", thing=segment.against)
            else:
                yield tr("sets its front on {thing}", thing=segment.against)
        elif isinstance(segment, Act):
            yield tr("comes to {target}", target=segment.target)
        elif number in passed:
            room, thing = passed[number]
            yield tr("passes {thing} with {room:.0f} mm to spare", thing=thing, room=room)
    if run.finish is not None:
        yield tr("comes home to {area}", area=run.finish)
    elif not any(isinstance(segment, Act) for segment in run.segments):
        yield tr("drives there without setting itself against anything")
