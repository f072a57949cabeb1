"""An answer as plain dictionaries and lists, ready for ``json.dumps(..., allow_nan=False)``.

The keys are a promise to other people's scripts: add some, never rename or drop one. Lengths in mm, headings in
degrees, times in seconds, shares from 0 to 1, segments counted from 1.
"""

from __future__ import annotations

import math
from typing import Any

from fieldsim.stats.intervals import Share
from fieldsim.studies.answer import Pose, SpreadAnswer, TryAnswer
from fieldsim.studies.causes import CausesAnswer
from fieldsim.studies.compare import CompareAnswer, LostAnswer
from fieldsim.studies.jigs import JigsAnswer
from fieldsim.studies.slack import Edges, SlackAnswer, SlackMap
from fieldsim.studies.widths import RoomAnswer, WidthsAnswer

__all__ = ["causes_json", "compare_json", "jigs_json", "slack_json", "to_json", "widths_json"]


def to_json(answer: TryAnswer) -> dict[str, Any]:
    """The whole answer of ``fieldsim try``.

    JSON has no not-a-number and no infinity: a number that is not there (no trial came so far, nothing to measure)
    is ``None``, which JSON writes as ``null``. Numbers keep every digit; rounding is for the faces that show them.
    """
    return {
        "command": "try",
        "version": answer.version,
        "run": answer.run,
        "field": answer.field,
        "robot": answer.robot,
        "start": answer.start,
        "bare": bool(answer.bare),
        "trials": int(answer.trials),
        "asked": None if answer.asked is None else int(answer.asked),
        "interrupted": bool(answer.interrupted),
        "seed": int(answer.seed),
        "need": _number(answer.need),
        "meets_need": answer.meets_need,
        "horizon": _number(answer.horizon),
        "success": _share(answer.success),
        "clear": _share(answer.clear),
        "unknown": None
        if answer.unknown is None
        else {
            "low": _number(answer.unknown.low),
            "high": _number(answer.unknown.high),
            "mean": _number(answer.unknown.mean),
            "tests": answer.unknown.tests,
            "robots": answer.unknown.robots,
            "untold": list(answer.unknown.untold),
        },
        "contacts": [
            {"obstacle": contact.obstacle, "segment": int(contact.segment), **_share(contact.share)}
            for contact in answer.contacts
        ],
        "clearance": [
            {
                "obstacle": gap.obstacle,
                "segment": int(gap.segment),
                "nominal": _number(gap.nominal),
                "p05": _number(gap.p05),
                "p05_low": _number(gap.p05_low),
                "p05_high": _number(gap.p05_high),
                "median": _number(gap.median),
                "mean": _number(gap.mean),
            }
            for gap in answer.clearance
        ],
        "ribbon": [
            {
                "segment": int(stretch.segment),
                "nominal": _number(stretch.nominal),
                "p05": _number(stretch.p05),
                "median": _number(stretch.median),
                "p95": _number(stretch.p95),
            }
            for stretch in answer.ribbon
        ],
        "targets": [
            {
                "target": target.target,
                "segment": int(target.segment),
                **_share(target.share),
                "nominal_miss": _number(target.nominal_miss),
                "miss_median": _number(target.miss_median),
                "miss_p95": _number(target.miss_p95),
                "within": _number(target.within),
                "points": _number(target.points),
            }
            for target in answer.targets
        ],
        "squares": [
            {
                "segment": int(square.segment),
                "on": square.on,
                **_share(square.share),
                "missed": [{"why": why, **_share(share)} for why, share in square.missed],
                "before": _spread(square.before),
                "after": _spread(square.after),
            }
            for square in answer.squares
        ],
        "finish": {
            "nominal": _pose(answer.finish.nominal),
            "mean": _pose(answer.finish.mean),
            "sd": _pose(answer.finish.sd),
            "covariance": _rows(answer.finish.covariance),
            "met": None if answer.finish.met is None else _share(answer.finish.met),
        },
        "time": {
            "nominal": _number(answer.time.nominal),
            "mean": _number(answer.time.mean),
            "sd": _number(answer.time.sd),
            "p95": _number(answer.time.p95),
        },
        "segments": list(answer.segments),
        "notes": list(answer.notes),
    }


def jigs_json(answer: JigsAnswer) -> dict[str, Any]:
    """The whole answer of ``fieldsim jigs``, best start first; those that cannot be come last."""
    return {
        "command": "jigs",
        "version": answer.version,
        "run": answer.run,
        "field": answer.field,
        "robot": answer.robot,
        "start": answer.start,
        "keep": answer.keep,
        "trials": int(answer.trials),
        "seed": int(answer.seed),
        "interrupted": bool(answer.interrupted),
        "need": _number(answer.need),
        "meets_need": answer.meets_need,
        "jigs": [
            {
                "jig": jig.jig,
                "by_eye": jig.by_eye,
                "fits": jig.fits,
                "why": jig.why_not,
                "success": None if jig.success is None else _share(jig.success),
                "trials": int(jig.trials),
                "behind": None if jig.behind is None else _share(jig.behind),
                "truly_behind": bool(jig.truly_behind),
                "given_up": bool(jig.dropped),
                "changed": list(jig.changed),
            }
            for jig in answer.jigs
        ],
    }


def slack_json(answer: SlackAnswer) -> dict[str, Any]:
    """The whole answer of ``fieldsim slack``: x along the start's heading, y to its left, mm and degrees."""
    return {
        "command": "slack",
        "version": answer.version,
        "run": answer.run,
        "field": answer.field,
        "robot": answer.robot,
        "start": answer.start,
        "trials": int(answer.trials),
        "seed": int(answer.seed),
        "success": _share(answer.success),
        "meets_need": bool(answer.meets_need),
        "slack": {"need": _number(answer.need), **_edges(answer.slack)},
        "geometry": _edges(answer.geometry),
        "map": _slack_map(answer.maps[0]),
        "maps": [_slack_map(each) for each in answer.maps],
    }


def compare_json(answer: CompareAnswer) -> dict[str, Any]:
    """The whole answer of ``fieldsim compare``; a difference is the first run's share less the second's."""
    return {
        "command": "compare",
        "version": answer.version,
        "trials": int(answer.trials),
        "seed": int(answer.seed),
        "runs": [
            {
                "run": run.run,
                "field": run.field,
                "robot": run.robot,
                "success": _share(run.success),
                "seconds": _number(run.seconds),
                "lost": [_lost(each) for each in run.lost],
            }
            for run in answer.runs
        ],
        "differences": [
            {
                "first": pair.first,
                "second": pair.second,
                "difference": _share(pair.difference),
                "truly": int(pair.truly),
                "only_first": int(pair.only_first),
                "only_second": int(pair.only_second),
                "second_lost": [_lost(each) for each in pair.second_lost],
                "first_lost": [_lost(each) for each in pair.first_lost],
            }
            for pair in answer.differences
        ],
    }


def _lost(lost: LostAnswer) -> dict[str, Any]:
    return {
        "why": lost.why,
        "what": lost.what,
        "segment": int(lost.segment),
        "count": int(lost.count),
        "examples": list(lost.examples),
    }


def widths_json(answer: WidthsAnswer) -> dict[str, Any]:
    """The whole answer of ``fieldsim widths``."""
    widest = answer.widest
    return {
        "command": "widths",
        "version": answer.version,
        "run": answer.run,
        "field": answer.field,
        "robot": answer.robot,
        "vary": answer.vary,
        "unit": answer.unit,
        "track_moves": bool(answer.track_moves),
        "now": _number(answer.now),
        "trials": int(answer.trials),
        "seed": int(answer.seed),
        "need": _number(answer.need),
        "meets_need": bool(answer.meets_need),
        "values": [
            {
                "value": _number(each.value),
                "success": _share(each.success),
                "behind": _share(each.behind),
                "lost": None if each.lost is None else _lost(each.lost),
            }
            for each in answer.values
        ],
        "refused": [{"value": _number(value), "why": why} for value, why in answer.refused],
        "widest": None
        if widest is None
        else {
            "value": _number(widest.value),
            "low": _number(widest.low),
            "high": _number(widest.high),
            "need": _number(answer.need),
            "beyond": bool(widest.beyond),
            "obstacle": widest.obstacle,
            "segment": widest.segment,
            "lost": None if widest.lost is None else _lost(widest.lost),
        },
        "geometry": None if answer.geometry is None else _room(answer.geometry),
        "places": [_room(place) for place in answer.places],
    }


def _room(room: RoomAnswer) -> dict[str, Any]:
    return {"value": _number(room.value), "obstacle": room.obstacle, "segment": room.segment}


def causes_json(answer: CausesAnswer) -> dict[str, Any]:
    """The whole answer of ``fieldsim causes``."""
    return {
        "command": "causes",
        "version": answer.version,
        "run": answer.run,
        "field": answer.field,
        "robot": answer.robot,
        "trials": int(answer.trials),
        "seed": int(answer.seed),
        "success": _share(answer.success),
        "without_noise": bool(answer.quiet),
        "sds": [{"of": of, "sd": _number(sd), "unit": unit} for of, sd, unit in answer.sds],
        "spread": [
            {
                "of": each.of,
                "source": each.source,
                "segment": int(each.segment),
                "first": _number(each.first),
                "total": _number(each.total),
            }
            for each in answer.spread
        ],
        "failures": [
            {
                "source": each.source,
                "segment": int(each.segment),
                "alone": _share(each.alone),
                "without": _share(each.without),
                "worth": _share(each.worth),
            }
            for each in answer.failures
        ],
        "mends": [
            {"what": each.what, "success": _share(each.success), "gain": _share(each.gain)} for each in answer.mends
        ],
    }


def _edges(edges: Edges) -> dict[str, Any]:
    return {
        "x": [_number(value) for value in edges.x],
        "y": [_number(value) for value in edges.y],
        "heading": [_number(value) for value in edges.heading],
        "ends": {axis: list(pair) for axis, pair in zip(("x", "y", "heading"), edges.ends, strict=True)},
    }


def _slack_map(each: SlackMap) -> dict[str, Any]:
    """A row of shares for each value of ``up``, a column for each of ``across``; null where it cannot be set."""
    return {
        "across": each.across,
        "up": each.up,
        each.across: [_number(value) for value in each.columns],
        each.up: [_number(value) for value in each.rows],
        "share": [[_number(value) for value in row] for row in each.share],
    }


def _number(value: float | None) -> float | None:
    """A plain float, so that numpy's own numbers do not stop ``json``; None for what JSON cannot say."""
    if value is None or not math.isfinite(value):
        return None
    return float(value)


def _share(share: Share) -> dict[str, float | None]:
    return {"share": _number(share.share), "low": _number(share.low), "high": _number(share.high)}


def _spread(spread: SpreadAnswer | None) -> dict[str, float | None] | None:
    if spread is None:
        return None
    return {"heading": _number(spread.heading), "away": _number(spread.away), "along": _number(spread.along)}


def _pose(pose: Pose | None) -> list[float | None] | None:
    return None if pose is None else [_number(part) for part in pose]


def _rows(matrix: tuple[Pose, Pose, Pose] | None) -> list[list[float | None]] | None:
    return None if matrix is None else [[_number(part) for part in row] for row in matrix]
