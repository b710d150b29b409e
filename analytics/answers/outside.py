"""What of each table may leave the team: its counts, how they add up, and the shares of those.

A table that is not here has no form for outside.
"""

from collections.abc import Mapping, Sequence

from analytics.answers.burden import ANY, GRADES
from analytics.answers.hardware import NUMBERS
from analytics.rules.suppression import Shape

_JUDGED = ("operated", "eligible", "evaluable", "events", "competing", "not_evaluable", "at_risk")
_SUMS = (("eligible", ("evaluable", "not_evaluable")),)
_RATE = (("rate", ("events", "evaluable")),)
_GRADED = ("events", *(f"grade_{grade}" for grade in GRADES))

RATES = Shape(counts=_JUDGED, sums=_SUMS, shares=_RATE)
HARMS = Shape(counts=_JUDGED, words=("kind", "group"), sums=_SUMS, shares=_RATE)
BURDEN = Shape(
    counts=("operated", "patients", *_GRADED),
    words=("kind", "group"),
    sums=(("events", _GRADED[1:]),),
    shares=(("share", ("patients", "operated")),),
    wholes=(("group", "all", ()), ("kind", ANY, _GRADED)),
)
STRIP = Shape(
    counts=("operated", "eligible", "evaluable", "not_evaluable", "events", "competing"),
    words=("definition", "version", "group"),
    sums=_SUMS,
    shares=_RATE,
)
LATER = Shape(
    counts=("operated", "had_at_least_one"),
    words=("group", "operation"),
    shares=(("share", ("had_at_least_one", "operated")),),
)
HARDWARE = Shape(
    counts=("operated", *(name.replace(" ", "_") for name in NUMBERS)),
    sums=(("troubled", ("troubled_in", "troubled_out")),),
)


def completeness(rows: Sequence[Mapping[str, object]]) -> Shape:
    """Return what may leave of the table of completeness, whose columns are the steps of the protocol."""
    steps = [name for name in (rows[0] if rows else ()) if name.startswith(("reviewed_", "due_"))]
    return Shape(counts=("operated", *steps, "lost", "failures"))
