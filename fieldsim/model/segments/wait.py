"""Standing still."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar

from fieldsim.language import tr
from fieldsim.model.bounds import Number
from fieldsim.model.segments.kind import SegmentKind
from fieldsim.model.units import TIME


@dataclass(frozen=True)
class Wait(SegmentKind):
    """Stand still for so many seconds."""

    noun: ClassVar[str] = "wait"
    key: ClassVar[str] = "wait"
    head: ClassVar[str] = "seconds"

    seconds: Annotated[float, Number(TIME, least=0.0, most=600.0), "How long to stand still, seconds."]

    @property
    def standing(self) -> float:
        return self.seconds

    def in_words(self) -> str:
        return tr("wait {time:g} s", time=self.seconds)
