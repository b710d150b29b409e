"""From operated to analysed: where each case left, why, and that nobody is counted twice."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from analytics.answers import horizons
from analytics.answers.horizons import Horizon
from analytics.endpoints.definition import REASONS, Applied

# The stages in order, each with what its members have in common.
STAGES: dict[str, str] = {
    "operated": "Operated",
    "eligible": "Operated long enough ago",
    "seen": "Seen at the horizon, or the answer known before",
    "judged": "Films allow a judgement",
    "analysed": "Analysed",
}
ENDS: dict[str, str] = {
    "event": "had the event",
    "held": "had not",
    "revision": "a revision came first",
    "death": "died first",
}
# Why a case left between one stage and the next, over and above the reasons of the definitions.
LEFT: dict[str, str] = {
    **REASONS,
    "too_recent": "not operated long enough ago yet",
    "died": "died before the horizon, without a film that allows a judgement",
    "revised": "revised before the horizon, without a film that allows a judgement",
    "window_open": "the horizon's window is still open",
    "not_seen": "not seen at or after the horizon",
}
WITHDREW = "withdrew from the register"
# They did not stay away: those who died, who were revised, and whose time has not come.
NOT_LOST = ("died", "revised", "window_open")


@dataclass(frozen=True)
class Part:
    """Some cases with what they have in common."""

    code: str
    words: str
    cases: tuple[int, ...]

    @property
    def number(self) -> int:
        """How many there are."""
        return len(self.cases)


@dataclass(frozen=True)
class Stage:
    """Those who came so far, and those of them who came no further, by reason."""

    part: Part
    left: tuple[Part, ...] = ()


@dataclass(frozen=True)
class Flow:
    """All stages, and what became of those analysed; every case is in one end or one reason.

    `withdrew` is how many operations are in no stage, because their patients let nothing of them
    count; more than their number is not known here.
    """

    stages: tuple[Stage, ...]
    ends: tuple[Part, ...]
    horizon: Horizon
    numbers: Mapping[str, int] = field(default_factory=dict)
    withdrew: int = 0


def places(
    applied: Applied, cases: pd.DataFrame, horizon: Horizon, cutoff: pd.Timestamp
) -> pd.DataFrame:
    """Return for each case the last stage that it reached and why it went no further.

    Columns: stage (a key of STAGES), reason ('' for those analysed), end (a key of ENDS for those
    analysed, else '') and stayed_away (why a case was neither seen nor filmed from the opening of
    the horizon's window on, '' where it was). A case counts as seen as well when what is asked was
    known before.
    """
    states = horizons.states_at(applied, cases, horizon, cutoff)
    due = horizons.due_on(cases, horizon).to_numpy()
    opens = due - np.timedelta64(horizon.before_days, "D")
    state, why = states["state"].to_numpy(), states["reason"].to_numpy()
    known = np.isin(state, ["event", "held", "competing"])
    came = cases["last_seen_on"].to_numpy() >= opens
    away = np.where(came, "", _away(cases, horizon, due, cutoff)).astype(object)
    unjudged = applied.verdicts["not_evaluable"].to_numpy()
    stage = np.select(
        [state == "not_eligible", known, ~came, unjudged != ""],
        ["operated", "analysed", "eligible", "seen"],
        default="judged",
    ).astype(object)
    reason = np.select(
        [stage == "operated", stage == "analysed", stage == "eligible", stage == "seen"],
        ["too_recent", "", away, unjudged],
        default=why,
    ).astype(object)
    first = applied.verdicts["competing"].to_numpy()
    end = np.where(known, np.where(state == "competing", first, state), "").astype(object)
    columns = {"stage": stage, "reason": reason, "end": end, "stayed_away": away}
    return pd.DataFrame(columns, index=cases.index)


def _away(
    cases: pd.DataFrame, horizon: Horizon, due: horizons.Days, cutoff: pd.Timestamp
) -> np.ndarray[tuple[int, ...], np.dtype[np.object_]]:
    """Say of every case why it would not have been seen at the horizon."""
    ended = cases["status_on"].to_numpy() <= due
    status = cases["patient_status"].to_numpy()
    closes = due + np.timedelta64(horizon.after_days, "D")
    return np.select(
        [
            ended & (status == "died"),
            cases["revised_on"].to_numpy() <= due,
            ended & (status == "withdrawn"),
            ended & (status == "moved"),
            closes >= cutoff.to_numpy(),
        ],
        ["died", "revised", "withdrawn", "moved", "window_open"],
        default="not_seen",
    ).astype(object)


def flow(placed: pd.DataFrame, horizon: Horizon, withdrew: int = 0) -> Flow:
    """Return the flow of the cases that `places` has placed."""
    order = list(STAGES)
    reached = placed["stage"].map(order.index).to_numpy()
    stages = []
    for number, (code, words) in enumerate(STAGES.items()):
        here = placed.loc[reached >= number]
        stopped = placed.loc[reached == number] if code != order[-1] else placed.iloc[:0]
        stages.append(Stage(_part(code, words, here), _parts(f"{code}:", "reason", stopped, LEFT)))
    ends = _parts("end:", "end", placed.loc[placed["stage"] == order[-1]], ENDS)
    numbers = {stage.part.code: stage.part.number for stage in stages}
    return Flow(tuple(stages), ends, horizon, numbers, withdrew)


def _part(code: str, words: str, rows: pd.DataFrame) -> Part:
    return Part(code, words, tuple(rows.index.tolist()))


def _parts(
    prefix: str, column: str, rows: pd.DataFrame, words: Mapping[str, str]
) -> tuple[Part, ...]:
    """Return the cases by the value of a column, in the order of its words; nobody is left out."""
    present = set(rows[column])
    unknown = present - set(words)
    if unknown:
        raise ValueError(f"no words for {', '.join(sorted(map(str, unknown)))}")
    return tuple(
        _part(f"{prefix}{code}", text, rows.loc[rows[column] == code])
        for code, text in words.items()
        if code in present
    )


def lost(placed: pd.DataFrame) -> "pd.Series[bool]":
    """Say of each case whether it was lost: not seen, or seen and not filmed, when it could have been.

    Those who died, were revised, whose window is open, or whom no film could judge were not lost.
    """
    unseen = (placed["stage"] == "eligible") & ~placed["reason"].isin(NOT_LOST)
    unfilmed = (placed["stage"] == "judged") & ~placed["reason"].isin([*NOT_LOST, "between"])
    return unseen | unfilmed


def followed(placed: pd.DataFrame) -> "pd.Series[bool]":
    """Say of each case whether it came, or was filmed, at the horizon or later, event or none."""
    return (placed["stage"] != "operated") & (placed["stayed_away"] == "")


def stayed_away(placed: pd.DataFrame) -> "pd.Series[bool]":
    """Say of each case whether it did not come at the horizon when it could have, event or none.

    Unlike `lost` this does not look at what was found: to compare those who came with those who
    did not, finding an event must not make somebody a comer.
    """
    could = ~placed["stayed_away"].isin(["", *NOT_LOST])
    return (placed["stage"] != "operated") & could


def to_rows(flows: Mapping[str, Flow]) -> list[dict[str, object]]:
    """Return the flow of each group as plain rows: a stage, or a reason to leave it, and how many."""
    rows: list[dict[str, object]] = []
    for group, one in flows.items():
        if one.withdrew:
            gone = {"stage": "before", "left_because": WITHDREW, "cases": one.withdrew}
            rows.append({"group": group, **gone})
        for stage in one.stages:
            what = {"group": group, "stage": stage.part.code}
            rows.append({**what, "left_because": "", "cases": stage.part.number})
            rows += [
                {**what, "left_because": part.words, "cases": part.number} for part in stage.left
            ]
        rows += [
            {"group": group, "stage": "end", "left_because": part.words, "cases": part.number}
            for part in one.ends
        ]
    return rows


def by_group(flows: Mapping[str, Flow]) -> list[dict[str, object]]:
    """Return the flow as one plain row a group: a column for each stage, reason to leave and end."""
    names = list(dict.fromkeys(_column(part) for one in flows.values() for part in _all(one)))
    rows: list[dict[str, object]] = []
    for group, one in flows.items():
        numbers = {_column(part): part.number for part in _all(one)}
        rows.append({"group": group, **{name: numbers.get(name, 0) for name in names}})
    return rows


def _column(part: Part) -> str:
    stage, _, reason = part.code.partition(":")
    return f"{stage}: {part.words}" if reason else stage


def _all(one: Flow) -> list[Part]:
    return [
        *(part for stage in one.stages for part in (stage.part, *stage.left)),
        *one.ends,
    ]
