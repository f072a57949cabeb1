"""Answers as JSON and their schema, from types made up here: every way an annotation can tell a key."""

from __future__ import annotations

import json
from dataclasses import dataclass
from math import inf, nan
from typing import Annotated, Any, ClassVar, Literal, NamedTuple

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from fieldsim.answers import Perhaps, Told, answer_schema, to_json, told_as


@dataclass(frozen=True)
class Part:
    """A share with its ends.

    More is for those who read the code.
    """

    mean: Annotated[float, "0 to 1"]
    low: Perhaps
    high: Perhaps


class Way(NamedTuple):
    """One of two ways."""

    kind: Annotated[str, Told(one_of=("x", "y"))]
    part: Annotated[Part, Told(spread=True)]


@dataclass(frozen=True, kw_only=True)
class Answer:
    """An answer with everything in it."""

    command: ClassVar[Literal["made up"]] = "made up"
    UNTOLD: ClassVar[int] = 3
    first: str
    late: Annotated[int, Told(after="truth")]
    part: Annotated[Part, Told(spread=True)]
    points: Annotated[Part, Told("on average", beside=True)]
    only: Annotated[Part, Told("the mean", only="mean")]
    ways: tuple[Way, ...]
    as_is: Annotated[Way, Told(as_stands=True)]
    axis: Annotated[str, Told(one_of=("x", "y"))]
    values: Annotated[tuple[float, ...], Told(key_from="axis")]
    point: Annotated[tuple[Perhaps, Perhaps], "mm"]
    counts: dict[str, int]
    maybe: Annotated[str | None, Told("why", key="why")]
    secret: Annotated[float, Told(hidden=True)] = 0.0

    @property
    @told_as("it is true", after="first")
    def truth(self) -> bool:
        return self.secret == 0.0

    @property
    def not_told(self) -> int:
        return 1


def made(**changes: Any) -> Answer:
    part = Part(0.5, 0.25, inf)
    values: dict[str, Any] = {
        "first": "a", "late": 7, "part": part, "points": part, "only": part, "ways": (Way("x", part),),
        "as_is": Way("y", part), "axis": "y", "values": (1.0, 2.0), "point": (nan, 1.0), "counts": {"arm": 2},
        "maybe": None,
    }  # fmt: skip
    return Answer(**{**values, **changes})


def test_keys_come_in_their_order_and_under_their_names() -> None:
    assert list(to_json(made()).items()) == [
        ("command", "made up"), ("first", "a"), ("truth", True), ("late", 7),
        ("mean", 0.5), ("low", 0.25), ("high", None),
        ("points", 0.5), ("points_low", 0.25), ("points_high", None),
        ("only", 0.5),
        ("ways", [{"kind": "x", "mean": 0.5, "low": 0.25, "high": None}]),
        ("as_is", ["y", {"mean": 0.5, "low": 0.25, "high": None}]),
        ("axis", "y"), ("y", [1.0, 2.0]), ("point", [None, 1.0]), ("counts", {"arm": 2}), ("why", None),
    ]  # fmt: skip


def test_numbers_of_numpy_become_plain() -> None:
    said = to_json(made(late=np.int64(3), point=(np.float32(0.5), np.float64(inf)), secret=np.float64(1)))
    assert json.loads(json.dumps(said, allow_nan=False)) == said
    assert (said["late"], said["point"], said["truth"]) == (3, [0.5, None], False)


def test_the_schema_tells_what_each_key_is() -> None:
    schema = answer_schema([Answer], "made up")
    Draft202012Validator.check_schema(schema)
    properties = schema["properties"]
    assert schema["description"] == "An answer with everything in it."
    assert properties["command"] == {"const": "made up"}
    assert properties["truth"] == {"type": "boolean", "description": "it is true"}
    assert properties["points"] == {"type": "number", "description": "on average"}
    assert properties["why"] == {"anyOf": [{"type": "string"}, {"type": "null"}], "description": "why"}
    assert properties["x"] == properties["y"] == {"type": "array", "items": {"type": "number"}}
    assert set(properties) - set(schema["required"]) == {"x", "y"}
    (way,) = (value for name, value in schema["$defs"].items() if name.endswith("Way"))
    assert way["properties"]["kind"] == {"enum": ["x", "y"]}
    assert way["description"] == "One of two ways."
    assert Draft202012Validator(answer_schema([Answer, Part], "two")).is_valid(to_json(made()))


@given(
    late=st.integers(-5, 5), axis=st.sampled_from("xy"), maybe=st.none() | st.text(), values=st.lists(st.floats(-9, 9)),
    point=st.tuples(st.floats(), st.floats()), counts=st.dictionaries(st.text(), st.integers()),
)  # fmt: skip
def test_what_is_told_keeps_to_the_schema_and_what_is_spoilt_does_not(**changes: Any) -> None:
    validator = Draft202012Validator(answer_schema([Answer], "made up"))
    said = json.loads(json.dumps(to_json(made(**changes)), allow_nan=False))
    assert validator.is_valid(said)
    for key in said:
        assert validator.is_valid({name: value for name, value in said.items() if name != key}) == (key in ("x", "y"))
        assert not validator.is_valid({**said, key: {"another": {"thing": []}}})
    assert not validator.is_valid({**said, "one too many": 1})


def test_what_json_cannot_hold_is_refused() -> None:
    @dataclass(frozen=True)
    class Wrong:
        what: Any

    Wrong.__annotations__["what"] = complex
    with pytest.raises(TypeError, match="cannot hold"):
        to_json(Wrong(1j))
