"""Where the formulas of `base` come from, as they are told beside each number."""

from __future__ import annotations

from fieldsim.language import tr, tr_later

NO_SOURCE = tr_later("common practice, no source")
CIRCLE = tr_later("plane geometry: the circumference of a circle is pi times its diameter")
PLANE = tr_later("plane geometry")
WHEELS = tr_later(
    "two-wheel kinematics: R. Siegwart and I. Nourbakhsh, Introduction to Autonomous Mobile Robots, "
    "MIT Press, 2004, ch. 3 (chapter from memory)"
)
ENCODER = tr_later("that a motor's encoder tells one degree apart: common practice, no source")
TRAPEZOID = tr_later(
    "trapezoid profile: K. Lynch and F. Park, Modern Robotics, Cambridge University Press, 2017, "
    "sec. 9.2.2.2 (section from memory)"
)
BRAKING = tr_later("motion with a steady acceleration, any physics textbook")
CORNER = tr_later(
    "E. W. Weisstein, 'Moving Ladder Problem', MathWorld, for a ladder; for a rectangle derived "
    "from it and checked against a grid search"
)
STATICS = tr_later("plane statics: J. Meriam and L. Kraige, Engineering Mechanics: Statics, Wiley (from memory)")
SPRINGS = tr_later(
    "equal springs under a rigid body, an assumption: L. Euler, 'De pressione ponderis in planum "
    "cui incumbit', Novi Commentarii 18, 1774 (from memory)"
)
TIPPING = tr_later(
    "plane statics with the force of inertia: J. Meriam and L. Kraige, Engineering Mechanics, Wiley (from memory)"
)
TRACTION = tr_later(
    "traction limit with load transfer: T. Gillespie, Fundamentals of Vehicle Dynamics, SAE, 1992, ch. 2 (from memory)"
)
GUESSED = tr_later("friction unless given: common practice, no source")
DERIVED = tr_later("derived here")


def cited(*sources: str) -> str:
    """Sources in the language that is spoken, in one line."""
    return "; ".join(tr(source) for source in sources)


_ALL = (
    NO_SOURCE, CIRCLE, PLANE, WHEELS, ENCODER, TRAPEZOID, BRAKING, CORNER, STATICS, SPRINGS, TIPPING, TRACTION, GUESSED,
    DERIVED,
)  # fmt: skip


def told_apart(line: str) -> list[str]:
    """The sources of a line that ``cited`` made, one by one; one that is not known stays whole."""
    known = sorted(map(tr, _ALL), key=len, reverse=True)
    found = []
    while line:
        first = next((each for each in known if line == each or line.startswith(f"{each}; ")), line)
        found.append(first)
        line = line[len(first) :].removeprefix("; ")
    return found
