"""How the model is written in files: which key stands for which attribute. One place for each form."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from fieldsim.model import Box, Field, Line, Outline, Robot, Round, Run
from fieldsim.model.bounds import Attribute, Checked, attributes
from fieldsim.model.match import Change, Match
from fieldsim.model.segments import KINDS as SEGMENT_KINDS

# Attributes that are written under another key than their own name.
RENAMED: Mapping[type[Checked], Mapping[str, str]] = MappingProxyType(
    {
        Field: {"name": "field"},
        Robot: {"name": "robot"},
        Run: {"name": "run"},
        Match: {"name": "match"},
        Change: {"start": "from", "end": "to"},
        Line: {"start": "from", "end": "to"},
        **{kind: {kind.head: kind.key} for kind in SEGMENT_KINDS},
    }
)

# A shape is written as one of these keys in place of 'shape'.
SHAPES: Mapping[str, type[Checked]] = MappingProxyType({"box": Box, "round": Round, "outline": Outline})

# A segment is known by one of these keys.
SEGMENTS: Mapping[str, type[Checked]] = MappingProxyType({kind.key: kind for kind in SEGMENT_KINDS})

# A file is of the kind of the first of these keys that it has.
KINDS: Mapping[str, type[Checked]] = MappingProxyType({"run": Run, "field": Field, "robot": Robot, "match": Match})


def keys_of(record: type[Checked]) -> dict[str, Attribute]:
    """File key -> attribute, in the model's order. 'shape' stands for the keys in SHAPES."""
    renamed = RENAMED.get(record, {})
    return {renamed.get(name, name): attribute for name, attribute in attributes(record).items()}
