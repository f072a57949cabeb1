"""How each study found its answer, what it assumed and how sure it is, for the end of its page."""

from __future__ import annotations

from collections.abc import Iterator

from fieldsim.language import tr, tr_later

__all__ = ["method_words"]

_TRIALS = tr_later(
    "Trials drive the robot's footprint along the run, with errors drawn at random as its file has them; every gap is "
    "measured exactly, with no time step. A trial that touches what it may not ends there."
)
_CHANCE = tr_later(
    "Numbers in brackets are 95 % intervals of chance: 19 of 20 of them hold what endless trials would give (shares: "
    "E. B. Wilson, 1927)."
)
_PAIRS = tr_later(
    "What is changed is tried on the same random numbers as the run as it is, and differences are told for pairs of "
    "trials (R. G. Newcombe, 1998); with several candidates the level is shared among them (S. Holm, 1979)."
)
_ROBOT = tr_later(
    "The robot is taken as its file has it: what its tests leave open is told where the word 'truly' stands, by 32 "
    "robots that fit them. Models stand where the field's file has them, within the spreads that it gives."
)
_FRESH = tr_later(
    "Candidates were chosen on some trials and are told from others, so that the luck of being chosen is in no number."
)

_METHODS = {
    "jigs": (
        _TRIALS,
        tr_later(
            "From each start the run is aimed anew as it says; a start that falls clearly behind in 1,000 trials or "
            "more is given up early (an exact sign test, at 1 % for the whole study)."
        ),
        _PAIRS, _CHANCE, _ROBOT,
    ),
    "slack": (
        _TRIALS,
        tr_later(
            "The start is moved one way at a time, on the same random numbers, until fewer get through than wanted: "
            "to 0.1 mm and 0.02 degrees. Its interval is where the two ends of the share fall below that. Without "
            "noise the edge is found to 0.000001 mm, by steps no larger than the gap that is left, so nothing is "
            "jumped over."
        ),
        _CHANCE, _ROBOT,
    ),
    "widths": (
        _TRIALS,
        tr_later(
            "For each value a new plan is made and tried on the same random numbers; the largest that still gets "
            "through often enough is found by halving, and its interval are the largest values whose share's two ends "
            "do. Without noise the largest value beside each model is found to 0.000001 mm."
        ),
        _CHANCE, _ROBOT,
    ),
    "compare": (_TRIALS, _PAIRS, _CHANCE, _ROBOT),
    "causes": (
        _TRIALS,
        tr_later(
            "What each error costs is found by leaving it out, and by leaving out all others. Shares of the variance "
            "are first order and total effects (A. Saltelli and others, 2010; M. J. W. Jansen, 1999) with intervals "
            "of their own."
        ),
        _FRESH, _CHANCE, _ROBOT,
    ),
    "base": (
        tr_later(
            "Plane geometry and statics of a rigid body on its wheels and casters; more than three supports are taken "
            "as equal springs. Formulas stand beside the numbers and their sources below. Nothing is drawn by chance."
        ),
    ),
    "fit": (
        tr_later(
            "Each kind of test is a linear model of the robot's numbers with what differs from day to day as a random "
            "effect, estimated by restricted maximum likelihood (H. D. Patterson and R. Thompson, 1971). Intervals "
            "are for 95 %. A bias is told as one only where it is told from nought (S. Holm, 1979). What is left is "
            "looked through for what the model does not know."
        ),
        tr_later("Tests are taken to be driven as in the match, and written down as they were measured."),
    ),
    "log": (
        _TRIALS,
        tr_later(
            "Each drive in the log is held against how often it was forecast. A verdict allows for days that are "
            "alike, for the number of runs that are judged, and for robots that fit the same tests."
        ),
        _CHANCE,
    ),
    "match": (
        _TRIALS,
        tr_later(
            "Matches are played on drawn tries of the runs, with the clock, changes by hand and rescues as the "
            "match's file has them. All orders are played on the same draws; the best order and the policy (R. "
            "Bellman, 1957) are chosen on other matches than those they are told from."
        ),
        tr_later("Numbers in brackets are 95 % intervals of chance."),
        _ROBOT,
    ),
    "route": (
        tr_later(
            "A search over places, headings and how uncertain both are proposes runs (S. Prentice and N. Roy, 2009); "
            "the best of different kinds are tried and bettered."
        ),
        _TRIALS, _FRESH, _CHANCE, _ROBOT,
    ),
    "tune": (
        tr_later(
            "Numbers are moved in the steps that a team can type, and squares put in where a flat side is near, on "
            "the same random numbers."
        ),
        _TRIALS, _FRESH, _CHANCE, _ROBOT,
    ),
    "aim": (
        _TRIALS,
        tr_later("Where the tool lands is told of the plan, and of the middle of the trials."),
        _ROBOT,
    ),
    "photo": (
        tr_later(
            "Square markers are found in the pictures; camera, lens, markers and poses are fitted together by least "
            "squares (bundle adjustment), with each corner's error. How exact a pose is comes from that fit. Nothing "
            "is sent anywhere."
        ),
    ),
}  # fmt: skip


def method_words(command: str) -> Iterator[str]:
    """How a study's answer was found, a paragraph each; none for a command without a page of that kind."""
    for words in _METHODS.get(command, ()):
        yield tr(words)
