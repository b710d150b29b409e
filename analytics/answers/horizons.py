"""The horizons at which outcomes are asked for, and what is known of each case at one."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from analytics.endpoints.definition import Applied

Days = NDArray[np.datetime64]
# What an endpoint is not about is in no denominator of it.
NOT_ASKED = ("not_a_fracture",)
STATES = ("event", "held", "competing", "not_evaluable", "not_eligible")


@dataclass(frozen=True)
class Horizon:
    """A time after the operation with the days around it within which a film stands for it."""

    code: str
    name: str
    months: int
    days: int
    before_days: int
    after_days: int

    @property
    def last_day(self) -> int:
        """The day after the operation by which an event still counts: the end of the window."""
        return self.days + self.after_days


# Timepoints: J Orthop Trauma 2015;29:479. Windows are those of the shipped protocol (from memory).
HORIZONS: dict[str, Horizon] = {
    row.code: row
    for row in (
        Horizon("6w", "6 weeks", 0, 42, 14, 14),
        Horizon("3m", "3 months", 3, 91, 21, 21),
        Horizon("6m", "6 months", 6, 183, 30, 60),
        Horizon("12m", "12 months", 12, 365, 60, 90),
        Horizon("24m", "24 months", 24, 731, 90, 180),
    )
}


def due_on(cases: pd.DataFrame, horizon: Horizon) -> "pd.Series[pd.Timestamp]":
    """Return the day of the horizon for each case, by calendar months or by days."""
    if horizon.months:
        return cases["performed_on"] + pd.DateOffset(months=horizon.months)
    return cases["performed_on"] + pd.Timedelta(days=horizon.days)


def states_at(
    applied: Applied, cases: pd.DataFrame, horizon: Horizon, cutoff: pd.Timestamp
) -> pd.DataFrame:
    """Return for each case its state at a horizon and, where it cannot be judged, the reason.

    Columns: state (one of STATES) and reason ('' unless not evaluable). Not eligible are those operated
    too late to be asked, and those whom the endpoint is not about. The state of a case that
    the definition can judge is known when the event came by the end of the window, when a competing
    event came by the horizon, or when a film (a visit, for harms) at or after the start of the
    window shows that it had not happened.
    """
    verdicts = applied.verdicts
    due = due_on(cases, horizon).to_numpy()
    opens = due - np.timedelta64(horizon.before_days, "D")
    closes = due + np.timedelta64(horizon.after_days, "D")
    event, competing, seen = (
        verdicts[name].to_numpy() for name in ("event_on", "competing_on", "seen_until")
    )
    never = verdicts["not_evaluable"].to_numpy()
    judged, not_asked = never == "", np.isin(never, NOT_ASKED)
    happened = judged & (event <= closes) & ~(competing < event)
    came_first = judged & (competing <= due)
    held = judged & (seen >= opens)
    state = np.select(
        [(due > cutoff.to_numpy()) | not_asked, happened, came_first, held],
        ["not_eligible", "event", "competing", "held"],
        default="not_evaluable",
    ).astype(object)
    reason = _reasons(applied, cases, due, closes, cutoff)
    return pd.DataFrame(
        {"state": state, "reason": np.where(state == "not_evaluable", reason, "")},
        index=cases.index,
        dtype=object,
    )


def _reasons(
    applied: Applied, cases: pd.DataFrame, due: Days, closes: Days, cutoff: pd.Timestamp
) -> NDArray[np.object_]:
    never = applied.verdicts["not_evaluable"].to_numpy()
    ended = cases["status_on"].to_numpy() <= due
    status = cases["patient_status"].to_numpy()
    absent = "not_seen" if applied.definition.rule == "complication" else "no_film"
    unknown = applied.verdicts["unknown"].to_numpy()
    reason = np.select(
        [
            unknown != "",
            applied.verdicts["event_on"].to_numpy() > closes,
            ended & (status == "withdrawn"),
            ended & (status == "moved"),
            closes >= cutoff.to_numpy(),
        ],
        [unknown, "between", "withdrawn", "moved", "window_open"],
        default=absent,
    ).astype(object)
    return np.where(never == "", reason, never)


def times(applied: Applied, cases: pd.DataFrame) -> pd.DataFrame:
    """Return for each judged case its time in days and cause: 1 event, 2 competing, 0 censored.

    The event's time is the day on which it was found. A case is censored on the last day on which
    it was known not to have happened. Columns: days (float), cause (int).
    """
    verdicts = applied.verdicts
    event, competing, seen = (
        verdicts[name].to_numpy() for name in ("event_on", "competing_on", "seen_until")
    )
    first = ~np.isnat(event) & ~(competing < event)
    cause = np.select([first, ~np.isnat(competing)], [1, 2], default=0)
    end = np.select([cause == 1, cause == 2], [event, competing], default=seen)
    usable = (verdicts["not_evaluable"].to_numpy() == "") & ~np.isnat(end)
    days = (end - cases["performed_on"].to_numpy()) / np.timedelta64(1, "D")
    columns = {"days": np.maximum(days[usable], 0.0), "cause": cause[usable]}
    return pd.DataFrame(columns, index=cases.index[usable])


def intervals(applied: Applied, cases: pd.DataFrame) -> pd.DataFrame:
    """Return for each judged case the days between which its event lies: (left, right].

    `left` is the last day known to be without the event, 0 where there is none; `right` the day on
    which it was found, infinite where it was not, or where a competing event came first: then
    `competing` is that event's day, and missing for all others. Equal ends are an event known to the
    day. Cases about which nothing is known are left out.
    """
    verdicts = applied.verdicts
    event, other, seen = (
        _days_after(verdicts[name], cases) for name in ("event_on", "competing_on", "seen_until")
    )
    happened = ~np.isnan(event) & ~(other < event)
    other[happened] = np.nan
    judged = verdicts["not_evaluable"].to_numpy() == ""
    usable = judged & (happened | ~np.isnan(other) | ~np.isnan(seen))
    right = np.where(happened, event, np.inf)
    # Nothing that was seen after a competing event says when this one came.
    left = np.clip(np.nan_to_num(seen), 0.0, np.fmin(right, other))
    columns = {"left": left[usable], "right": right[usable], "competing": other[usable]}
    return pd.DataFrame(columns, index=cases.index[usable])


def _days_after(on: "pd.Series[pd.Timestamp]", cases: pd.DataFrame) -> NDArray[np.float64]:
    """Return how many days after its operation each day is, 0 where before it, NaN where missing."""
    days = (on.to_numpy() - cases["performed_on"].to_numpy()) / np.timedelta64(1, "D")
    after: NDArray[np.float64] = np.maximum(days, 0.0)
    return after
