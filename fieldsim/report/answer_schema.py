"""JSON Schema (draft 2020-12) of the answers: what ``--json`` prints and answer.json holds, command by command.

Every key is declared once, here, with its unit. No other key is let through and none may be missing, so that the tests,
which hold every command's answer against it, notice what is forgotten. Descriptions are for programmers: in English.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

__all__ = ["COMMANDS", "answer_schema"]

Schema = dict[str, Any]


def _is(kind: str, about: str, **more: Any) -> Schema:
    return {"type": kind, "description": about, **more} if about else {"type": kind, **more}


def number(about: str = "") -> Schema:
    return _is("number", about)


def whole(about: str = "") -> Schema:
    return _is("integer", about)


def text(about: str = "") -> Schema:
    return _is("string", about)


def flag(about: str) -> Schema:
    return _is("boolean", about)


def words(about: str, *known: str) -> Schema:
    """One of a few words that stay the same whatever the language."""
    return {"enum": list(known), "description": about}


def maybe(schema: Schema, about: str = "") -> Schema:
    """That, or null."""
    found: Schema = {"anyOf": [schema, {"type": "null"}]}
    return {**found, "description": about} if about else found


def many(item: Schema, about: str = "") -> Schema:
    return _is("array", about, items=item)


def record(keys: Mapping[str, Schema], about: str = "") -> Schema:
    return _is("object", about, properties=dict(keys), required=list(keys), additionalProperties=False)


def a(name: str, about: str = "") -> Schema:
    """One of the shapes that are told once."""
    found: Schema = {"$ref": f"#/$defs/{name}"}
    return {**found, "description": about} if about else found


_SHARE = {
    "share": number("0 to 1"), "low": number("lower end of the 95 % interval"), "high": number("its upper end"),
}  # fmt: skip
_MEAN = {
    "mean": number(), "low": maybe(number(), "lower end of the 95 % interval"), "high": maybe(number(),
    "its upper end"),
}  # fmt: skip
_ENDS = {"value": number(), "low": maybe(number()), "high": maybe(number(), "null: there is no upper end")}

_DEFS: dict[str, Schema] = {
    "share": record(_SHARE, "a share of trials"),
    "mean": record(_MEAN, "a mean over matches"),
    "ends": record(_ENDS, "a measured number and between what it may be (95 %)"),
    "pose": _is("array", "x and y in mm, heading in degrees; field frame", items=maybe(number()), minItems=3,
    maxItems=3),
    "pair": _is("array", "to the negative and to the positive side", items=maybe(number()), minItems=2, maxItems=2),
    "lane": maybe(_is("array", "5th percentile, median, 95th percentile", items=number(), minItems=3, maxItems=3)),
    "lost": record({
        "why": text("'touches', 'misses', 'ends outside', or how a square or line was not caught"),
        "what": text("what was touched, missed or not caught"), "segment": whole("counted from 1"),
        "count": whole("trials"), "examples": many(whole(), "numbers of some of them"),
    }, "what went wrong first"),
    "room": record({
        "value": maybe(number()), "obstacle": maybe(text()), "segment": maybe(whole("counted from 1")),
    }, "the largest value before something is touched without any noise"),
    "map": record({
        "across": words("what the columns are", "x", "y", "heading"), "up": words("what the rows are", "x", "y",
        "heading"),
        "share": many(many(maybe(number())), "a row for each value of 'up'; null where something stands"),
    }),
    "unknown": maybe(record({
        "low": number(), "high": number(), "mean": number(), "tests": whole(), "robots": whole("that were tried"),
        "untold": many(text(), "numbers that no test tells of"),
    }, "what the robot's tests leave unknown, as its success share; null if its file says nothing of that")),
}  # fmt: skip
# A map has the values of its two axes under their names.
_DEFS["map"]["properties"] |= {axis: many(number(), "mm or degrees") for axis in ("x", "y", "heading")}

_NAMES = {"run": text("the run's name"), "field": text("the field's name"), "robot": text("the robot's name")}


def _head(command: str, *, seeded: bool = True) -> dict[str, Schema]:
    head: dict[str, Schema] = {"command": {"const": command}, "version": text("of fieldsim")}
    if seeded:
        head |= {"trials": whole("that were done, or of each"), "seed": whole()}
    return head


_TRY = {
    **_head("try"), **_NAMES, "start": text("the jig's name, or by eye"),
    "bare": flag("without attachments and acts"),
    "asked": maybe(whole("trials asked for; null: grown to a half-width")),
    "interrupted": flag("fewer than asked"), "need": maybe(number("the share that was wanted")),
    "meets_need": maybe(flag("the share that gets through is at least that")),
    "horizon": maybe(number("mm: gaps are not followed farther")),
    "success": a("share", "touched nothing it may not, hit every target, ended inside its finish"),
    "clear": a("share", "touched nothing it may not"), "unknown": a("unknown"),
    "contacts": many(record({"obstacle": text(), "segment": whole(), **_SHARE}), "first contacts, most often first"),
    "clearance": many(record({
        "obstacle": text(), "segment": whole("where it is tightest most often"),
        "nominal": maybe(number("mm, as planned")), "p05": maybe(number("mm left in 19 of 20 trials")),
        "p05_low": maybe(number()), "p05_high": maybe(number()), "median": maybe(number()), "mean": maybe(number()),
    }), "gaps, tightest first, mm"),
    "ribbon": many(record({
        "segment": whole(), "nominal": maybe(number()), "p05": maybe(number()), "median": maybe(number()),
        "p95": maybe(number()),
    }), "the gap to the nearest obstacle on each segment, mm"),
    "targets": many(record({
        "target": text(), "segment": whole(), **_SHARE, "nominal_miss": maybe(number("mm, as planned")),
        "miss_median": maybe(number("mm")), "miss_p95": maybe(number("mm")), "within": maybe(number("mm allowed")),
        "points": maybe(number()),
    })),
    "squares": many(record({
        "segment": whole(), "on": text("the wall, obstacle or line"), **_SHARE,
        "missed": many(record({"why": text(), **_SHARE})),
        **{when: maybe(record({"heading": number("degrees"), "away": number("mm"), "along": number("mm")},
                              "standard deviations")) for when in ("before", "after")},
    })),
    "finish": record({
        "nominal": a("pose"), "mean": maybe(a("pose")), "sd": maybe(a("pose", "standard deviations")),
        "covariance": maybe(many(many(maybe(number())), "3 by 3, mm and degrees")),
        "met": maybe(a("share", "ended inside the finish")),
    }, "over the trials that ended their run"),
    "time": record({
        "nominal": maybe(number("s, planned")), "mean": maybe(number("s")), "sd": maybe(number("s")),
        "p95": maybe(number("s")),
    }),
    "segments": many(text(), "each in words"), "notes": many(text(), "what is taken for granted"),
}  # fmt: skip

_TRIAL = {
    "command": {"const": "try"}, "trial": whole("its number"), "run": text(), "seed": whole(),
    "success": flag("it got through"),
    "seconds": number(), "contact": maybe({"type": "array", "prefixItems": [text("obstacle"), whole("segment"),
    number("x, mm"), number("y, mm")]}),
    "lost": maybe({"type": "array", "prefixItems": [whole("segment"), text("why")]}),
    "home": maybe(flag("inside the finish")), "start": a("pose"),
    "legs": many(record({
        "segment": whole(), "words": text(), "pose": a("pose"), "planned": a("pose"), "gap": maybe(number("mm")),
        "miss": maybe(number("mm")), "hit": maybe(flag("the tool was in place")), "caught": maybe(text()),
    })),
}  # fmt: skip

_JIGS = {
    **_head("jigs"), **_NAMES, "start": text("the run's own"), "keep": words("what stays", "targets", "path"),
    "interrupted": flag("the rest was not tried"), "need": maybe(number()), "meets_need": maybe(flag("")),
    "jigs": many(record({
        "jig": text(), "by_eye": flag("for comparison"), "fits": flag("the run can start there"),
        "why": maybe(text("why not")), "success": maybe(a("share")), "trials": whole(),
        "behind": maybe(a("share", "lost to the best on the same trials")), "truly_behind": flag("more than luck"),
        "given_up": flag("before all trials were done"), "changed": many(text(), "segments that were re-aimed"),
    }), "best first"),
}  # fmt: skip

_EDGES = {
    "x": a("pair", "mm, forwards positive"), "y": a("pair", "mm, left positive"),
    "heading": a("pair", "degrees, left positive"),
    "ends": record({axis: many(text()) for axis in ("x", "y", "heading")}, "what ends it there"),
}  # fmt: skip
_SLACK = {
    **_head("slack"), **_NAMES, "start": text(), "success": a("share", "at the planned start"),
    "meets_need": flag("even the planned start"), "slack": record({"need": number(), **_EDGES},
    "with the robot's noise"),
    "geometry": record(_EDGES, "without any noise"), "map": maybe(a("map")), "maps": many(a("map")),
}  # fmt: skip

_WIDTHS = {
    **_head("widths"), **_NAMES, "vary": words("what", "width", "length", "axle", "track", "wheel", "speed"),
    "unit": text(), "track_moves": flag("with the width"), "now": maybe(number("the robot's own value")),
    "need": maybe(number()),
    "meets_need": flag("some value does"),
    "values": many(record({
        "value": maybe(number()), "success": a("share"), "behind": a("share", "lost to the robot as it is"),
        "lost": maybe(a("lost")),
    })),
    "refused": many(record({"value": maybe(number()), "why": text()}), "values that cannot be"),
    "widest": maybe(record({
        "value": maybe(number()), "low": maybe(number()), "high": maybe(number()), "need": maybe(number()),
        "beyond": flag("nothing that was looked at fails"), "obstacle": maybe(text()), "segment": maybe(whole()),
        "lost": maybe(a("lost")),
    })),
    "geometry": maybe(a("room")), "places": many(a("room")),
}  # fmt: skip

_COMPARE = {
    **_head("compare"),
    "runs": many(record({
        **_NAMES, "success": a("share"), "seconds": maybe(number()), "lost": many(a("lost")),
    })),
    "differences": many(record({
        "first": text(), "second": text(), "difference": a("share", "of the first less that of the second"),
        "truly": whole("1: the first is better than luck explains, -1: the second, 0: neither"),
        "only_first": whole("trials that only the first gets through"), "only_second": whole(),
        "second_lost": many(a("lost")), "first_lost": many(a("lost")),
    })),
}  # fmt: skip

_CAUSES = {
    **_head("causes"), **_NAMES, "success": a("share"), "without_noise": flag("it gets through without any noise"),
    "sds": many(record({"of": text(), "sd": maybe(number()), "unit": text()}), "standard deviations"),
    "spread": many(record({
        "of": text(), "source": text("the noise"), "segment": whole("0: once a run"),
        "first": maybe(number("share of the variance by itself")),
        "total": maybe(number("with all it has a hand in")),
    })),
    "failures": many(record({
        "source": text(), "segment": whole(), "alone": a("share", "fail with it alone"),
        "without": a("share", "fail without it"), "worth": a("share", "fewer fail without it"),
    })),
    "mends": many(record({"what": text(), "success": a("share"), "gain": a("share")})),
}  # fmt: skip

_BASE = {
    **_head("base", seeded=False), "robot": text(), "wear": many(text()), "friction": number(),
    "numbers": many(record({
        "id": text("stays the same whatever the language"), "value": maybe(number()),
        "unit": text("mm, mm/s, mm/s^2, s, degrees, degrees/s or share"), "formula": text(), "source": text(),
        "words": text(), "note": text(),
    })),
    "warnings": many(record({"id": text(), "words": text(), "source": text()})),
    "attachments": many(record({
        "name": text(), "worn": flag(""), **{side: number("mm it stands out") for side in ("ahead", "behind", "left",
        "right")},
        "spin_radius": number("mm"), "spin_more": number("mm"), "narrowest_gap": number("mm"),
        "gap_more": number("mm"),
        "height": many(maybe(number()), "mm from the mat, low and high; null: without end"),
    })),
    "stands_on": many(many(number()), "corners of the ground between wheels and casters, robot frame, mm"),
    "tips_over": maybe(many(number(), "x of the edges it tips over, mm")),
}  # fmt: skip

_ORDER = {
    "score": record({
        **_MEAN, "sd": number(), **{
            f"{name}{end}": number() for name in ("p05", "median", "p95") for end in ("", "_low", "_high")
        },
    }, "points of a match"),
    "inside_clock": a("share", "all runs driven to their end in time"),
    "runs": many(record({
        "run": text(), "points": number("on average"), "points_low": maybe(number()), "points_high": maybe(number()),
        "rescues": number("points lost by fetching, 0 or less"), "seconds": number("driving and acting"),
        "by_hand": number("seconds"), "per_second": maybe(number("points")), "success": a("share", "through in time"),
        "begun": a("share"), "cut": a("share", "late, or cut off by the limit"), "tries": number("on average"),
        "without": maybe(a("mean", "points the match gains without it")), "starts": a("lane"), "ends": a("lane"),
    })),
    "spent": record({what: a("mean", "seconds") for what in ("driving", "acting", "changing", "rescuing", "left")}),
}  # fmt: skip
_WORTH = {
    "kind": words("what gets better", "changeover", "change", "rescue", "run", "success"), "what": text(),
    "one": a("mean", "points for a second, or one success more in 100"), "five": a("mean", "the same for five"),
}  # fmt: skip
_RULE = {
    "after": text("the run tried last; empty at the start"), "through": flag("it got through"),
    "still": many(text(), "runs that can still be tried"), "often": number("share of matches that come here"),
}  # fmt: skip
_MATCH = {
    **_head("match"), "match": text(), "field": text(), "robots": many(text()), "limit": number("s"),
    "rerun": words("of the match's file", "never", "once", "while time is left"), **_ORDER,
    "best": record({
        "order": many(text()), "dropped": many(text()), "gain": a("mean", "points over the order as written"),
        "chosen_on": whole("other matches"), "tried": whole("orders"), "exact": flag("all of them"),
        "at_most_better": number("points that an order that was not looked at could be better at most"), **_ORDER,
    }),
    "worth": many(record(_WORTH)),
    "policy": maybe(record({
        "score": a("mean"), "over_written": a("mean"), "over_best": a("mean"), "follows_best": a("share"),
        "rules": many(record({
            **_RULE, "steps": many(record({"seconds_left": number("at least"), "run": text("empty: none")})),
        })),
        "knows": many(text(), "runs it decides about"),
    })),
    "notes": many(text()),
}  # fmt: skip

_PLACED = {"jig": text(), "part": text(), **_ENDS}
_FIT = {
    **_head("fit", seeded=False), "tests": whole(), "driven": whole(), "dates": whole(),
    "accuracy": {
        "type": "object", 
        "description": "the robot file's block, in the model's units: shares, degrees per metre, mm, degrees",
        "additionalProperties": {"type": "object", "additionalProperties": a("ends")},
    },
    "together": many(record({"one": text(), "other": text(), "correlation": number()})),
    "tape": maybe(a("ends", "mm")), "placing": many(record(_PLACED), "standard deviations, mm and degrees"),
    "placing_off": many(record(_PLACED), "means, mm and degrees"),
    "repeatability": many(record({
        "jig": text(), "count": whole(), "accuracy": number("mm"), "repeatability": number("mm"),
        "angle_accuracy": maybe(number("degrees")), "angle_repeatability": maybe(number("degrees")),
    }), "as ISO 9283 has it"),
    "square_paths": many(record({
        "side": number("mm"), "merit": number("mm"), "again": maybe(flag("more than chance")),
        "turn": number("share too far"), "veer": number("degrees per metre"), "wheel_ratio": number(),
        "track_ratio": number(), "track": number("mm"),
    })),
    "drops": record({
        "passed": whole(), "failed": whole(), "came_off": {"type": "object", "additionalProperties": whole()},
    }),
    "outliers": many(record({"line": whole(), "why": text()})), "unknown": many(text()), "doubts": many(text()),
    "plan": maybe(record({
        "run": text(), "tests": whole(), "share": number(), "low": number(), "high": number(),
        **{when: many(record({
            "kind": text(), "size": number("mm or degrees"), "tests": whole(), "days": whole(), "low": number(),
            "high": number(),
        })) for when in ("first", "then")},
        "untold": many(text()),
    })),
}  # fmt: skip

_JUDGED = {
    "drives": whole(), "through": whole(), "observed": a("share"), "forecast": a("share"), "p_value": number(),
    "power": number(), "needed": maybe(whole("drives")),
    "shows": maybe(number("a forecast wrong by this share would probably have been found")),
    "verdict": text(), "fewest": whole(), "most": whole(),
    "fits": maybe(record({
        "tests": whole(), "low": number(), "high": number(), "fewest": whole(), "most": whole(), "p_value": number(),
    }, "the same with what the robot's tests leave unknown")),
}  # fmt: skip
_SCORE = record({"value": number(), "expected": number(), "low": number(), "high": number()})
_LOG = {
    **_head("log"), "drives": whole(), "days": whole(), "undated": whole(), "one_day": flag("all on one day"),
    "together": maybe(record(_JUDGED)),
    "runs": many(record({
        **_NAMES, **_JUDGED,
        "went_wrong": many(record({
            "result": text(), "where": maybe(text()), "counted": whole(), "forecast": maybe(a("share")),
            "surprise": maybe(number("p-value")),
        })),
        "misses": many(record({
            "target": text(), "measured": whole(), "median": number("mm"), "forecast_median": maybe(number("mm")),
            "forecast_p95": maybe(number("mm")), "place": maybe(number()), "p_value": maybe(number()),
            "needed": maybe(whole()), "by_ending": flag(""), "verdict": text(), "p_fits": maybe(number()),
        })),
        "time": maybe(record({
            "measured": whole(), **{key: maybe(number("s")) for key in (
                "mean", "least", "most", "forecast", "forecast_low", "forecast_high", "off_low", "off_high",
            )}, "verdict": text(),
        })),
        "notes": many(text()),
    })),
    "alternatives": many(record({
        "what": text(), "change": text(), "step": number(), "gain": maybe(number()), "times": maybe(number()),
        "success": number(), "pointed": flag(""), "allowed": flag(""),
    }), "changes of the robot that would explain what went wrong"),
    "bar": maybe(number()),
    "explained": maybe(record({
        "failed": whole(), "as_written": number(), "changed": number(), "p_value": number(), "enough": flag(""),
        "left": many(record({
            "run": text(), "result": text(), "where": maybe(text()), "counted": whole(), "expected": number(),
        })),
    })),
    "scores": maybe(record({"brier": _SCORE, "log": _SCORE, "z": maybe(number()), "p_value": maybe(number())})),
}  # fmt: skip

_TURNS = maybe(record({"left": number(), "right": number()}, "degrees"))
_CARD = {
    **_head("card"), **_NAMES, "run_file": text(), "wear": many(text()), "bare": flag(""),
    "heading_from": words("what it knows its heading from", "wheels", "gyro"), "wheel": number("mm"),
    "track": number("mm"),
    "gear": number("turns of the wheel for one of the motor"),
    "start": record({
        "jig": maybe(text()), "holds": maybe(text("corner of the body")), "held_at": maybe(many(number(), "mm")),
        "pose": a("pose"),
        "measures": many(record({
            "letter": text(), "corner": text(), "wall": text(), "at": many(number()), "distance": number("mm"),
            "over": maybe(text("what is between")),
        })),
        "check": many(text(), "letters of two measures that tell the heading"), "side": text(),
        "difference": number("mm"), "per_degree": number("mm"), "spread": many(number(), "mm, mm, degrees"),
    }),
    "steps": many(record({
        "number": whole(), "kind": text(), "words": text(), "distance": maybe(number("mm")),
        "angle": maybe(number("degrees")),
        "radius": maybe(number("mm")), "about": maybe(text()), "may_touch": many(text()), "wheels": _TURNS,
        "motors": _TURNS,
        "at_most": flag("until it touches or sees something"), "planned_way": maybe(number("mm")),
        "speed": maybe(number("mm/s")), "turn_speed": maybe(number("degrees/s")),
        "motor_speed": maybe(number("degrees/s")),
        "seconds": number(), "clock": number("s"), "formula": many(text()), "look": many(text()),
    })),
    "gaps": many(record({
        "step": whole(), "obstacle": text(), "gap": number("mm"), "planned": number("mm"),
        "left": maybe(number("mm")),
        "part": maybe(text()), "place": maybe(text()), "side": maybe(text()),
    })),
    "aims": many(record({
        "step": whole(), "target": text(), "within": number("mm"), "heading_within": maybe(number("degrees")),
        "share": a("share"), "miss_median": maybe(number("mm")), "points": maybe(number()),
    })),
    "catches": many(record({"step": whole(), "on": text(), "share": a("share")})), "seconds": number(),
    "finish": maybe(text()),
    "success": a("share"), "unknown": a("unknown"),
    "troubles": many(record({
        "why": text(), "what": text(), "step": whole(), "count": whole(), "share": a("share"),
    })),
    "looked_at": whole("trials"), "notes": many(text()), "interrupted": flag(""), "log_columns": many(text()),
    "paper": words("", "A4", "Letter"), "again": text("the command that makes it again"), "ticks": many(text()),
}  # fmt: skip

_BLANK = {
    **_head("card", seeded=False), "robot": text(), "speed": number("mm/s"), "turn_speed": number("degrees/s"),
    "columns": many(text()),
    "tables": many(record({"kind": text(), "columns": many(text()), "rows": many(many(text()))})),
    "paper": words("", "A4", "Letter"),
}  # fmt: skip

_MATCH_CARD = {
    **_head("card"), "match": text(), "field": text(), "robots": many(text()), "limit": number("s"), "rerun": text(),
    "rescue": number("points, 0 or less"),
    "steps": many(record({
        "number": whole(), "run": text(), "robot": text(), "jig": maybe(text()), "take_off": many(text()),
        "slip_on": many(text()), "keep_on": many(text()), "by_hand": maybe(number("s")), "needs": many(text()),
        "targets": many({"type": "array", "prefixItems": [text("name"), number("points")]}),
        "finish": number("points"),
        "starts": a("lane"), "ends": a("lane"), "success": a("share"), "points": a("mean"),
    })),
    "written": record({
        "order": many(text()),
        "score": record({
            "mean": a("mean"), "sd": number(), "p05": a("mean"), "median": a("mean"), "p95": a("mean"),
        }),
        "inside": a("share"),
        "runs": many(record({
            "run": text(), "points": a("mean"), "rescues": number(), "seconds": a("mean"), "by_hand": a("mean"),
            "begun": a("share"), "success": a("share"), "cut": a("share"), "tries": number(),
            "without": maybe(a("mean")), "lanes": many(many(number())),
        })),
        "spent": record({what: a("mean", "seconds") for what in ("driving", "acting", "changing", "rescuing",
        "left")}),
    }),
    "better": many(text(), "an order that truly scores more"), "gain": a("mean"),
    "rules": many(record({**_RULE, "steps": many({"type": "array", "prefixItems": [number("s left"),
    text("run")]})})),
    "worth": many(record(_WORTH)), "notes": many(text()), "log_columns": many(text()), "paper": words("", "A4",
    "Letter"),
    "again": text(), "plan": many(text()), "ticks": many(text()),
}  # fmt: skip

_ALL: Mapping[str, tuple[Mapping[str, Schema], ...]] = {
    "try": (_TRY, _TRIAL), "jigs": (_JIGS,), "slack": (_SLACK,), "widths": (_WIDTHS,), "compare": (_COMPARE,),
    "causes": (_CAUSES,), "base": (_BASE,), "match": (_MATCH,), "fit": (_FIT,), "log": (_LOG,),
    "card": (_CARD, _BLANK, _MATCH_CARD),
}  # fmt: skip
COMMANDS = tuple(_ALL)


def answer_schema(command: str | None = None) -> Schema:
    """The schema of the answers of one command, or of all of them. Raises KeyError for a command without an answer."""
    forms = _ALL[command] if command is not None else tuple(form for forms in _ALL.values() for form in forms)
    told: list[Schema] = []
    for form in forms:
        made = record(form)
        if form is _SLACK:
            # A map is told by two of these.
            made["description"] = "of a map's axes only the two that it names are there"
        told.append(made)
    defs = {name: dict(schema) for name, schema in _DEFS.items()}
    defs["map"] = {**defs["map"], "required": ["across", "up", "share"]}
    title = "fieldsim answer" if command is None else f"fieldsim {command}"
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": title}
    return {**head, **(told[0] if len(told) == 1 else {"oneOf": told}), "$defs": defs}
