"""A search over beliefs: which ways through the places keep the chance of getting through largest.

A label is a way to a place: the heading there, the belief of the pose, the chance lost so far (the sum of -log of the
chance of each gap), seconds, moves, and the class of its way round the obstacles. Labels grow a move at a time; of
those at the same place, heading and class the best few are kept.

Source: Prentice and Roy, The belief roadmap, International Journal of Robotics Research 28 (2009); chance lost gap by
gap as in Blackmore, Ono and Williams, Chance-constrained optimal path planning with obstacles, IEEE Transactions on
Robotics 27 (2011), sec. IV (Boole's bound; here the product of chances).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from math import inf, pi, radians

import numpy as np
from numpy.typing import NDArray

from fieldsim.planning import beliefs as belief
from fieldsim.planning.beliefs import Beliefs, Noise
from fieldsim.planning.places import GO, LEAST_GAP, PUSH, Places, sector

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

# What a second, a move and a drive backwards cost, as chance: where chance does not decide, runs are short and plain.
SECOND, MOVE, BACKWARDS = 0.0006, 0.002, 0.001
# Gaps are judged as if the robot were placed this much worse than it is, mm: where chance costs nothing it keeps clear.
KEEP_CLEAR = 2.5
# Labels that are followed from one layer to the next, and labels kept for one place, heading and class.
BEAM, ALIKE = 2500, 2
# A way that loses so much more chance than the best one known is not followed: so much, and a share of what that loses.
BEHIND, BEHIND_SHARE = 0.25, 0.5
# A first way may lose this much.
HOPELESS = 4.0
HEADINGS = 24
# Moves into the same place, heading and class that are carried on from one lot of labels; a wrong heading counts as a
# loss of so much for each radian squared.
CARRIED, OUTLOOK = 5, 200.0
# Moves weighed at once: bounds memory.
CHUNK = 150_000


@dataclass(frozen=True)
class Labels:
    """L labels."""

    place: Ints
    heading: Floats
    """radians"""
    beliefs: Beliefs
    lost: Floats
    """-log of the chance so far,"""
    cost: Floats
    """what seconds and moves cost besides,"""
    seconds: Floats
    way_round: Floats
    pushes: Ints
    """how many squares,"""
    parent: Ints
    """the label it comes from, in the layer before,"""
    move: Ints
    """the move, and"""
    turn: Floats
    """the turn before it, radians."""
    last: Floats
    """signed way of the last move: what only goes on straight is one move, not two."""

    def __len__(self) -> int:
        return len(self.place)

    def take(self, which: Ints | Bools) -> Labels:
        kept = {f.name: getattr(self, f.name)[which] for f in fields(self) if f.name != "beliefs"}
        return Labels(beliefs=self.beliefs.take(which), **kept)


def labels_joined(parts: list[Labels]) -> Labels:
    kept = {f.name: np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Labels) if f.name != "beliefs"}
    return Labels(beliefs=belief.joined([p.beliefs for p in parts]), **kept)


@dataclass(frozen=True)
class Goal:
    """Where a stage ends. ``chance`` judges labels that have made a move into it: (labels, move numbers) to the chance
    of being in place (0 where it is not); ``ends`` (M,) says which moves may end there."""

    ends: Bools
    chance: Callable[[Labels, Ints], Floats]
    at: tuple[float, float]
    radius: float
    """A length that says how exactly one has to come there, mm."""


@dataclass(frozen=True)
class Found:
    """A way: the moves (numbers) with their turns, from which first label, and what it is worth by the search."""

    first: int
    moves: tuple[int, ...]
    turns: tuple[float, ...]
    lost: float
    cost: float
    seconds: float
    way_round: float
    pushes: int
    beliefs: Beliefs
    place: int
    heading: float

    @property
    def score(self) -> float:
        return self.lost + self.cost


@dataclass
class Effort:
    """What was looked at."""

    labels: int = 0
    moves: int = 0
    interrupted: bool = False


def search(
    places: Places,
    starts: Labels,
    goal: Goal,
    noise: Noise,
    *,
    layers: int = 8,
    limit: float = inf,
    sides: Floats,
    effort: Effort,
    blind: bool = False,
    last: bool = True,
    watch: Callable[[], None] = lambda: None,
) -> list[Found]:
    """The best ways from labels ``starts`` into the goal, of each class the best; best first.

    ``limit`` is the most seconds; ``sides`` (W,) how far ahead of the axle each side's face lies, mm; ``blind`` judges
    gaps without their uncertainty, for comparison. A KeyboardInterrupt ends the ``last`` stage with what was found.
    """
    found: list[Found] = []
    try:
        _search(places, starts, goal, noise, layers, limit, sides, effort, blind, watch, found)
    except KeyboardInterrupt:
        if not last or not found:
            raise
        effort.interrupted = True
    return sorted(found, key=lambda way: way.score)


def _search(
    places: Places, starts: Labels, goal: Goal, noise: Noise, layers: int, limit: float, sides: Floats, effort: Effort,
    blind: bool, watch: Callable[[], None], found: list[Found],
) -> None:  # fmt: skip
    moves = places.moves
    first = np.searchsorted(moves.start, np.arange(len(places) + 1))
    to_go = _legs_to_go(places, goal)
    far = np.hypot(*(places.at - np.array(goal.at)).T)
    layer = starts
    history = [starts]
    best = HOPELESS
    for depth in range(layers):
        grown: list[Labels] = []
        alive = np.flatnonzero(to_go[layer.place] <= layers - depth)
        counts = (first[layer.place + 1] - first[layer.place])[alive]
        for some in _chunks(alive, counts):
            watch()
            more, effort_here = _grow(
                places, first, layer, some, noise, to_go, layers - depth - 1, best, limit, sides, blind
            )
            effort.moves += effort_here
            if not len(more):
                continue
            best = _arrive(more, goal, history, found, best, blind)
            grown.append(_dominant(more.take(places.fixed.shape[0] > more.place), far, goal.radius))
        if not grown:
            break
        layer = labels_joined(grown)
        layer = layer.take(layer.lost + layer.cost < _bound(best))
        layer = _dominant(layer, far, goal.radius)
        layer = _beam(layer, far, noise, goal.radius)
        effort.labels += len(layer)
        history.append(layer)
        if not len(layer):
            break


def _bound(best: float) -> float:
    return best * (1 + BEHIND_SHARE) + BEHIND


def _chunks(alive: Ints, counts: Ints) -> list[Ints]:
    if not len(alive):
        return []
    group = np.cumsum(counts) // CHUNK
    return [alive[group == g] for g in np.unique(group)]


def _legs_to_go(places: Places, goal: Goal) -> Ints:
    """The fewest moves from each place into the goal, whatever the errors."""
    moves = places.moves
    legs = np.full(len(places) + 1, 99, dtype=np.int64)
    if goal.ends.any():
        np.minimum.at(legs, moves.start[goal.ends], 1)
    for _ in range(12):
        before = legs.copy()
        inner = moves.end < len(places)
        np.minimum.at(legs, moves.start[inner], legs[moves.end[inner]] + 1)
        if (legs == before).all():
            break
    return legs[: len(places)]


def _grow(
    places: Places, first: Ints, layer: Labels, some: Ints, noise: Noise, to_go: Ints, left: int, best: float,
    limit: float, sides: Floats, blind: bool,
) -> tuple[Labels, int]:  # fmt: skip
    """All moves from some labels."""
    moves = places.moves
    counts = first[layer.place[some] + 1] - first[layer.place[some]]
    of = np.repeat(some, counts)
    move = (
        np.arange(counts.sum())
        - np.repeat(np.cumsum(counts) - counts, counts)
        + np.repeat(first[layer.place[some]], counts)
    )
    tried = len(of)
    heading, way, kind = moves.heading[move], moves.way[move], moves.kind[move]
    end = moves.end[move]
    turn = np.mod(heading - layer.heading[of] + pi, 2 * pi) - pi
    fixed = ~np.isnan(places.fixed[layer.place[of]])
    keep = ~fixed | (np.abs(turn) < radians(3.0))
    # A place is for turning, or for backing out of where something was done.
    straight_on = np.abs(turn) < radians(2.0)
    keep &= ~(straight_on & (np.sign(way) == np.sign(layer.last[of])) & (kind == GO))
    keep &= ~(straight_on & (kind == GO) & (layer.last[of] != 0) & ~fixed & (np.abs(way + layer.last[of]) < 30.0))
    inner = end < len(places)
    keep &= ~inner | (to_go[np.minimum(end, len(places) - 1)] <= left)
    of, move, heading, way, kind, turn, end = (v[keep] for v in (of, move, heading, way, kind, turn, end))
    # Which way to turn: the shorter one if there is room.
    here = layer.place[of]
    a, b = sector(layer.heading[of]), sector(heading)
    left_room = places.spins[here, a, b].astype(float)
    right_room = places.spins[here, b, a].astype(float)
    turns = np.abs(turn) > radians(0.4)
    ahead_left = turn > 0
    room = np.where(ahead_left, left_room, right_room)
    other = np.where(ahead_left, right_room, left_room)
    long_way = turns & (room < LEAST_GAP) & (other >= LEAST_GAP)
    turn = np.where(long_way, turn - np.sign(turn) * 2 * pi, turn)
    room = np.where(turns, np.where(long_way, other, room), 1e3)
    keep = room >= LEAST_GAP
    of, move, heading, way, kind, turn, end, room, here = (
        v[keep] for v in (of, move, heading, way, kind, turn, end, room, here)
    )
    pushes = kind == PUSH
    layer_wander = layer.beliefs.wander
    layer_turn = layer.beliefs.chance[:, 2, 2] + (layer.beliefs.day[:, 2] ** 2).sum(axis=1)
    used = np.where(np.abs(turn) > radians(0.4), belief.turn_seconds(noise, turn), 0.0)
    used = used + belief.seconds_of(way, noise.speed, noise.acceleration)
    seconds = layer.seconds[of] + used
    # Turning that far and back is a sign of a poor run; long turns cost as what they take.
    cost = layer.cost[of] + SECOND * used + MOVE * (1 + pushes) + BACKWARDS * ((way < 0) & ~pushes)
    lost = layer.lost[of]
    keep = (seconds <= limit) & (lost + cost < _bound(best))
    of, move, heading, way, kind, turn, end, room, seconds, cost, lost, pushes = (
        v[keep] for v in (of, move, heading, way, kind, turn, end, room, seconds, cost, lost, pushes)
    )
    # Of many ways into the same place and heading only those that promise most are carried on with all their errors.
    side = layer_wander[of] + layer_turn[of] * way * way + KEEP_CLEAR**2
    promise = lost + cost - np.log(np.maximum(belief.survives(moves.room.tightest[move], side), 1e-9))
    promise = promise + OUTLOOK * layer_turn[of]
    key = (end * HEADINGS + np.round(heading / (2 * pi / HEADINGS)).astype(np.int64) % HEADINGS) * 8 + kind
    key = key * 1009 + np.round(layer.way_round[of] * 1000 + moves.crossed[move] * 1000).astype(np.int64) % 1009
    order = np.lexsort((promise, key))
    rank = np.arange(len(order)) - np.searchsorted(key[order], key[order])
    keep = np.sort(order[rank < CARRIED])
    of, move, heading, way, kind, turn, end, room, seconds, cost, lost, pushes = (
        v[keep] for v in (of, move, heading, way, kind, turn, end, room, seconds, cost, lost, pushes)
    )
    state = layer.beliefs.take(of)
    spread = np.sqrt(state.wander + KEEP_CLEAR**2)
    if blind:
        spread = np.full(len(of), KEEP_CLEAR)
    lost = lost - np.log(np.maximum(belief.survives(room, spread**2), 1e-9))
    state = belief.turned(noise, state, np.where(np.abs(turn) > radians(0.4), turn, 0.0))
    variance = state.variance(moves.slope[move], moves.day[move]) + moves.own[move] + KEEP_CLEAR**2
    if blind:
        variance = np.full_like(variance, KEEP_CLEAR**2)
    chance = belief.survives(moves.room.gap[move], variance)
    lost = lost - np.log(np.maximum(chance, 1e-9)).sum(axis=1)
    keep = lost + cost < _bound(best)
    of, move, heading, way, turn, end, seconds, cost, lost, pushes = (
        v[keep] for v in (of, move, heading, way, turn, end, seconds, cost, lost, pushes)
    )
    state = state.take(keep)
    state = belief.driven(noise, state, heading, way)
    if pushes.any():
        flat = belief.squared(noise, state.take(pushes), heading[pushes], sides[moves.side[move[pushes]]])
        state.chance[pushes], state.day[pushes] = flat.chance, flat.day
    return Labels(
        end, heading, state, lost, cost, seconds, layer.way_round[of] + moves.crossed[move],
        layer.pushes[of] + pushes, of, move, turn, np.where(pushes, 0.0, way),
    ), tried  # fmt: skip


def _arrive(more: Labels, goal: Goal, history: list[Labels], found: list[Found], best: float, blind: bool) -> float:
    """Note the labels that have come into the goal; of each class the best two."""
    into = np.flatnonzero(goal.ends[more.move])
    if not len(into):
        return best
    chance = goal.chance(more.take(into), more.move[into])
    if blind:
        chance = (chance > 0).astype(float)
    lost = more.lost[into] - np.log(np.maximum(chance, 1e-9))
    good = (chance > 0) & (lost + more.cost[into] < _bound(best))
    into, lost = into[good], lost[good]
    order = np.argsort(lost + more.cost[into])
    classes: dict[tuple[float, int], int] = {}
    for k in order:
        i = int(into[k])
        key = (round(float(more.way_round[i]), 3), int(more.pushes[i]))
        if classes.get(key, 0) >= 2:
            continue
        classes[key] = classes.get(key, 0) + 1
        way = _told(more, i, history, float(lost[k]))
        found.append(way)
        best = min(best, way.score)
    return best


def _told(more: Labels, i: int, history: list[Labels], lost: float) -> Found:
    moves, turns = [int(more.move[i])], [float(more.turn[i])]
    at = int(more.parent[i])
    for layer in reversed(history[1:]):
        moves.append(int(layer.move[at]))
        turns.append(float(layer.turn[at]))
        at = int(layer.parent[at])
    return Found(
        at, tuple(reversed(moves)), tuple(reversed(turns)), lost, float(more.cost[i]), float(more.seconds[i]),
        float(more.way_round[i]), int(more.pushes[i]), more.beliefs.take(np.array([i])), int(more.place[i]),
        float(more.heading[i]),
    )  # fmt: skip


def _outlook(layer: Labels, far: Floats, radius: float) -> Floats:
    """The chance that would be lost by going straight to the goal from here: what an uncertain pose costs later."""
    p, d = layer.beliefs.chance, layer.beliefs.day
    heading = p[:, 2, 2] + (d[:, 2] ** 2).sum(axis=1)
    place = 0.5 * (p[:, 0, 0] + p[:, 1, 1] + (d[:, 0] ** 2).sum(axis=1) + (d[:, 1] ** 2).sum(axis=1))
    way = far[layer.place]
    spread = place + heading * way * way / 2
    return np.asarray(-np.log(np.maximum(1 - np.exp(-radius * radius / (2 * np.maximum(spread, 1e-9))), 1e-3)))


def _dominant(layer: Labels, far: Floats, radius: float) -> Labels:
    """Of labels at the same place, heading and class, the few that lose least, now or to be expected."""
    if not len(layer):
        return layer
    heading = np.round(layer.heading / (2 * pi / HEADINGS)).astype(np.int64) % HEADINGS
    way_round = np.round(layer.way_round * 1000).astype(np.int64)
    score = layer.lost + layer.cost
    keep = np.zeros(len(layer), dtype=bool)
    for value in (score, score + _outlook(layer, far, radius)):
        order = np.lexsort((value, way_round, heading, layer.place))
        place, h, w = layer.place[order], heading[order], way_round[order]
        new = np.ones(len(order), dtype=bool)
        new[1:] = (place[1:] != place[:-1]) | (h[1:] != h[:-1]) | (w[1:] != w[:-1])
        keep[order[new]] = True
    return layer.take(keep)


def _beam(layer: Labels, far: Floats, noise: Noise, radius: float) -> Labels:
    """The labels that promise most: half by what is lost and to be expected, half spread over the places."""
    if len(layer) <= BEAM:
        return layer
    promise = layer.lost + layer.cost + 0.5 * _outlook(layer, far, radius) + SECOND * far[layer.place] / noise.speed
    order = np.argsort(promise)
    chosen = np.zeros(len(layer), dtype=bool)
    chosen[order[: BEAM // 2]] = True
    rest = order[BEAM // 2 :]
    # The best of each place in turn.
    by_place = rest[np.argsort(layer.place[rest], kind="stable")]
    rank = np.arange(len(by_place)) - np.searchsorted(layer.place[by_place], layer.place[by_place])
    more = by_place[np.lexsort((promise[by_place], rank))]
    chosen[more[: BEAM - BEAM // 2]] = True
    return layer.take(chosen)
