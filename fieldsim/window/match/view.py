"""From a match's session to a scene: everything that the window shows of it, as plain data."""

from __future__ import annotations

from fieldsim.language import in_digits, tr
from fieldsim.match.story import Scored
from fieldsim.model.errors import shown as harmless
from fieldsim.report.phrases import fixed, spoken
from fieldsim.report.words.match import points_words
from fieldsim.sim.failures import failures
from fieldsim.window.asking import answers_of
from fieldsim.window.keys import MATCH_KEYS, help_rows
from fieldsim.window.match.session import MatchSession
from fieldsim.window.paint.odds import failing_kind, failing_words
from fieldsim.window.paint.scene import ErrorWords, Mat, MatchScene, NumberRow, Numbers, Odds, Picked, SwitchRow
from fieldsim.window.run.state import PACES
from fieldsim.window.run.view import path_until

__all__ = ["MatchView"]

# Buttons of the window that a match has nothing for.
OFF = frozenset({"undo", "redo", "save", "add", "copy", "remove", "axis", "lead", "rest", "studies"})


class MatchView:
    """Scenes of one session."""

    def __init__(self, session: MatchSession, mat: Mat | None = None) -> None:
        self.session = session
        self.mat = mat

    def scene(self) -> MatchScene:
        session = self.session
        now, match = session.stretch, session.match
        run = match.runs[now.run].run
        robots = ", ".join(dict.fromkeys(harmless(each.run.robot.name) for each in match.runs))
        return MatchScene(
            run=run,
            parts=session.plans[now.run].parts,
            layout=session.places,
            camera=session.camera,
            way=session.ways[now.run],
            strip=session.strip,
            dark=session.dark,
            head=session.strip_head,
            pose=session.pose,
            picked=self._picked(),
            scores=session.scores,
            by_hand=session.by_hand,
            odds=self._odds(),
            numbers=self._numbers(),
            switches=(
                SwitchRow(tr("order"), session.order_name, len(session.played.orders) > 1),
                SwitchRow(
                    tr("match"),
                    tr("{number} of {count}", number=session.number + 1, count=len(session.played.bank)),
                ),
            ),
            mat=self.mat,
            title=tr(
                "{run}: {robot} on {field}", run=harmless(match.name), robot=robots, field=harmless(run.field.name)
            ),
            playing=session.playing,
            pace=in_digits(f"{PACES[session.pace]:g}x"),
            clock=tr("{now:.1f} of {whole:g} s", now=session.seconds, whole=session.limit),
            off=OFF,
            hover=session.hover,
            toast=session.toast,
            help=help_rows(MATCH_KEYS) if session.help else (),
            error=None if session.over is None else ErrorWords(*session.over, answers_of(session.asking)),
        )

    def _picked(self) -> Picked:
        session = self.session
        tried, now = session.tried, session.stretch
        failure = failures(tried.trials)[0]
        name = harmless(session.match.runs[now.run].name)
        ended = session.head >= tried.until
        if now.what == "change":
            words = tr("{run}: being made ready", run=name)
        elif failure is None or not ended:
            words = name
        else:
            words = f"{name}: {failing_words(failure)}"
        kind, at = None, None
        # What will go wrong is not told before it does.
        if failure is not None and ended and failure.why == "touches":
            kind, at = (
                failing_kind(failure.why),
                (float(tried.trials.contact_at[0, 0]), float(tried.trials.contact_at[0, 1])),
            )
        return Picked(path_until(tried.way, session.head), session.pose, words, kind, at)

    def _odds(self) -> Odds:
        session = self.session
        mean = session.played.means[session.which]
        low, high = session.played.spreads[session.which]
        left = max(0.0, session.limit - session.seconds)
        return Odds(
            big=tr("{points} points", points=spoken(round(session.points, 6))),
            lead=tr("match {number} has so far", number=session.number + 1),
            between=tr(
                "at the end {points}, {time} s left", points=spoken(round(session.story.score, 6)), time=fixed(left, 1)
            ),
            time=tr("9 of 10 matches end between {low} and {high}", low=spoken(low), high=spoken(high)),
            nothing_fails=tr("on average {points}", points=points_words(mean)),
            foot=tr("{n} matches, seed {seed}", n=len(session.played.bank), seed=session.played.seed),
        )

    def _numbers(self) -> Numbers:
        session = self.session
        rows = tuple(
            NumberRow(
                label=tr("{time:.0f} s", time=each.at),
                value=f"{self._what(each)} {'+' if each.points > 0 else ''}{spoken(each.points)}",
                on=False,
                wide=True,
                plain=True,
            )
            for each in session.story.scored
            if each.at <= session.seconds + 1e-9
        )
        room = max(1, len(session.places.rows))
        note = tr("nothing yet") if not rows else tr("what it scored, and when")
        return Numbers(tr("Points so far"), note, rows[-room:])

    def _what(self, scored: Scored) -> str:
        match = self.session.match
        if scored.target is not None:
            return harmless(match.targets[scored.target])
        if scored.points < 0:
            return tr("robot fetched")
        return tr("{run}: finish", run=harmless(match.runs[scored.run].name))
