"""What of each table may leave the team: its counts, how they add up, and the shares of those.

A table that is not here has no form for outside.
"""

from analytics.answers.burden import ANY, GRADES
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
