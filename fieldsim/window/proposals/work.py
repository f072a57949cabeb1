"""What `route` proposes, made ready to be shown: asked in a thread of its own (`fieldsim.window.errand`), in the same
values and words as the command."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fieldsim.language import tr, tr_later
from fieldsim.model import Field, Robot, Run
from fieldsim.model.errors import FieldsimError
from fieldsim.sim.ways import Way, way_of
from fieldsim.window.errand import Errand, Watch
from fieldsim.window.paint.scene import Cloud

__all__ = ["Found", "Proposed", "Wish", "errand", "proposed"]

# Trials of a proposal that are drawn as thin lines.
DRAWN = 60


@dataclass(frozen=True)
class Wish:
    """What is asked for."""

    field: Field
    robot: Robot
    wear: tuple[str, ...] = ()
    start: str | None = None
    """A jig or a start area; None for every jig."""
    targets: tuple[str, ...] = ()
    finish: str | None = None
    within: float | None = None
    """Seconds, at most."""

    @property
    def enough(self) -> bool:
        """Whether it says where to go."""
        return bool(self.targets) or self.finish is not None


@dataclass(frozen=True, eq=False)
class Proposed:
    """A run that was proposed, ready to be drawn."""

    run: Run
    parts: tuple[Any, ...]
    way: Way
    cloud: Cloud | None
    title: str
    words: str
    share: tuple[float, float, float]
    """How often it gets through, and its interval."""


@dataclass(frozen=True, eq=False)
class Found:
    """What came of a wish by now."""

    wish: Wish
    done: int = 0
    wanted: int = 0
    over: bool = False
    headline: str = ""
    further: tuple[str, ...] = ()
    proposals: tuple[Proposed, ...] = ()
    wrong: tuple[str, ...] = ()


def proposed(wish: Wish, watch: Watch, *, seed: int = 1, threads: int | None = None, trials: int = 10_000) -> Found:
    """Ask for proposals. What ``watch(done, wanted)`` raises breaks it off."""
    # Here and not at the top: the window is not to wait for numpy and the kernel.
    from fieldsim.planning.legs import Task
    from fieldsim.planning.route import route, starts_in
    from fieldsim.report.words.route import route_statement

    try:
        starts = starts_in(wish.field, wish.robot, wish.start)
        task = Task(wish.field, wish.robot, wish.wear, starts, wish.targets, wish.finish, within=wish.within)
        routed = route(task, seed=seed, trials=trials, threads=threads, watch=watch)
    except (FieldsimError, ValueError) as problem:
        lines = getattr(problem, "lines", None) or str(problem).splitlines()
        return Found(wish, over=True, wrong=tuple(map(str, lines[:8])))
    told = route_statement(routed.answer)
    return Found(
        wish,
        over=True,
        headline=told.headline,
        further=(*told.further, *(told.advice if not routed.tried else ())),
        proposals=tuple(
            _drawn(each, answer, routed.answer.trials)
            for each, answer in zip(routed.tried, routed.answer.proposals, strict=True)
        ),
    )


def _drawn(tried: Any, answer: Any, trials: int) -> Proposed:
    from fieldsim.report.phrases import fixed, how_often_shortly
    from fieldsim.report.words.route import weakest_words
    from fieldsim.sim.trials import paths
    from fieldsim.window.paint.build import cloud_of

    ready, first = tried.ready, tried.first
    cloud = None
    if first is not None and len(first):
        sample = paths(ready, tried.answer.seed, first, list(range(min(DRAWN, len(first)))))
        cloud = cloud_of(sample, first)
    often = how_often_shortly(answer.success, trials)
    return Proposed(
        run=ready.run,
        parts=ready.parts,
        way=way_of(ready),
        cloud=cloud,
        title=tr("{often}, {seconds} s", often=often, seconds=fixed(answer.seconds, 1)),
        words=f"{answer.words} {weakest_words(answer)}",
        share=(answer.success.share, answer.success.low, answer.success.high),
    )


def errand(*, seed: int = 1, threads: int | None = None, trials: int = 10_000) -> Errand[Wish, Found]:
    """The thread that proposes."""
    return Errand(
        "fieldsim proposals",
        lambda wish, watch: proposed(wish, watch, seed=seed, threads=threads, trials=trials),
        Found,
        lambda wish, problem: Found(wish, over=True, wrong=(tr(MISTAKE), repr(problem))),
    )


MISTAKE = tr_later("This cannot be proposed, and that is fieldsim's mistake.")
