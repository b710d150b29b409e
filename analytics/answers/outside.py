"""What of each table may leave the team: its counts, how they add up, and the shares of those.

A table that is not here has no form for outside: curves and figures of a chart, which are estimates
day by day or case by case; means and medians of how groups differ; and what others have published,
whose own lines are those of the rates.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from analytics.answers.attendance import WAYS
from analytics.answers.burden import ANY, GRADES
from analytics.answers.flow import STAGES
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
REVIEWS = Shape(
    counts=("planned", *WAYS),
    words=("by", "line"),
    sums=(("planned", tuple(WAYS)),),
    wholes=(("line", "all", ()),),
    repeats=(("line", "all"),),
)
RESPONSES = Shape(
    counts=("wanted", "answered", "did_not_answer"),
    words=("horizon",),
    sums=(("wanted", ("answered", "did_not_answer")),),
    shares=(("share", ("answered", "wanted")),),
    wholes=(),
)
AGREEMENT = Shape(
    counts=("pairs", "one_said"),
    words=("measurement", "group"),
)
TIPPING = Shape(
    counts=("eligible", "evaluable", "unseen", "events"),
    sums=(("eligible", ("evaluable", "unseen")),),
    shares=_RATE,
)


def compared(groups: Sequence[str]) -> Shape:
    """Return what may leave of some groups beside each other: their lines of the table of rates.

    What is hidden there is hidden here, so that the two tables together give nothing away.
    """
    return replace(RATES, only=tuple(groups))


def completeness(rows: Sequence[Mapping[str, object]]) -> Shape:
    """Return what may leave of the table of completeness, whose columns are the steps of the protocol."""
    steps = [name for name in (rows[0] if rows else ()) if name.startswith(("reviewed_", "due_"))]
    return Shape(counts=("operated", *steps, "lost", "failures"))


def flow(rows: Sequence[Mapping[str, object]]) -> Shape:
    """Return what may leave of the flow: of each group those at each stage, and why others left it."""
    names = [name for name in (rows[0] if rows else ()) if name != "group"]
    parts = {name: [one for one in names if one.startswith(f"{name}:")] for name in STAGES}
    ends = tuple(name for name in names if name.startswith("end:"))
    stages = list(STAGES)
    sums = [(stage, (after, *parts[stage])) for stage, after in pairwise(stages)]
    return Shape(counts=tuple(names), sums=(*sums, (stages[-1], ends)))


def function(rows: Sequence[Mapping[str, object]]) -> Shape:
    """Return what may leave of a measure over time: how many have a value, and why others have none."""
    names = list(rows[0]) if rows else []
    missing, hardware = (
        tuple(name for name in names if name.startswith(f"{sort}_"))
        for sort in ("missing", "hardware")
    )
    reaching = ("acceptable",) if rows and rows[0]["acceptable"] is not None else ()
    ended = "died_or_revised_before"
    return Shape(
        counts=("eligible", "number", *missing, ended, *reaching, *hardware),
        words=("group", "horizon"),
        sums=(("eligible", ("number", *missing)), ("number", hardware)),
        shares=(("share_acceptable", ("acceptable", "number")),) if reaching else (),
    )
