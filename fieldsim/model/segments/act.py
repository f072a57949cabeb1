"""Something done at a target."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

from fieldsim.language import tr
from fieldsim.model.bounds import Named, Number
from fieldsim.model.segments.kind import SegmentKind
from fieldsim.model.units import TIME


@dataclass(frozen=True)
class Act(SegmentKind):
    """Do something at a target; the robot stands still for ``takes`` seconds."""

    noun: ClassVar[str] = "act"
    key: ClassVar[str] = "act"
    head: ClassVar[str] = "target"

    target: Annotated[str, Named("the name of a target", of="target"), "The target the tool point must be at."]
    takes: Annotated[float, Number(TIME, least=0.0, most=600.0), "How long it takes, seconds."] = 0.0
    takes_sd: Annotated[float, Number(TIME, least=0.0, most=600.0), "Standard deviation of that, seconds."] = 0.0

    @property
    def standing(self) -> float:
        return self.takes

    def in_words(self) -> str:
        return tr("act: {target}", target=self.target)
