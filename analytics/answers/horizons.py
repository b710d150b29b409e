"""The horizons at which outcomes are asked for, and what is known of each case at one."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analytics.endpoints.definition import Applied

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

    Columns: state (one of STATES) and reason ('' unless not evaluable). The state is known when the
    event came by the end of the window, when a competing event came by the horizon, or when a film
    (a visit, for harms) at or after the start of the window shows that it had not happened.
    """
    verdicts = applied.verdicts
    due = due_on(cases, horizon)
    opens = due - pd.Timedelta(days=horizon.before_days)
    closes = due + pd.Timedelta(days=horizon.after_days)
    event, competing, seen = (verdicts[name] for name in ("event_on", "competing_on", "seen_until"))
    judged = verdicts["not_evaluable"] == ""
    far = pd.Timestamp.max
    happened = judged & (event <= closes) & (event <= competing.fillna(far))
    came_first = competing <= due
    held = judged & (seen >= opens)
    state = np.select(
        [due > cutoff, happened, came_first, held],
        ["not_eligible", "event", "competing", "held"],
        default="not_evaluable",
    )
    table = pd.DataFrame({"state": state}, index=cases.index)
    table["reason"] = _reasons(applied, cases, due, closes, cutoff)
    table.loc[table["state"] != "not_evaluable", "reason"] = ""
    return table


def _reasons(
    applied: Applied,
    cases: pd.DataFrame,
    due: "pd.Series[pd.Timestamp]",
    closes: "pd.Series[pd.Timestamp]",
    cutoff: pd.Timestamp,
) -> "pd.Series[str]":
    verdicts = applied.verdicts
    ended = cases["status_on"] <= due
    absent = "not_seen" if applied.definition.rule == "complication" else "no_film"
    reason = np.select(
        [
            verdicts["not_evaluable"] != "",
            verdicts["event_on"] > closes,
            ended & (cases["patient_status"] == "withdrawn"),
            ended & (cases["patient_status"] == "moved"),
            closes >= cutoff,
        ],
        [verdicts["not_evaluable"], "between", "withdrawn", "moved", "window_open"],
        default=absent,
    )
    return pd.Series(reason, index=cases.index)


def times(applied: Applied, cases: pd.DataFrame) -> pd.DataFrame:
    """Return for each judged case its time in days and cause: 1 event, 2 competing, 0 censored.

    The event's time is the day on which it was found. A case is censored on the last day on which
    it was known not to have happened.
    """
    verdicts = applied.verdicts
    far = pd.Timestamp.max
    event, competing = verdicts["event_on"].fillna(far), verdicts["competing_on"].fillna(far)
    cause = np.select([event <= competing, competing < far], [1, 2], default=0)
    cause = np.where((event == far) & (competing == far), 0, cause)
    end = verdicts["event_on"].where(cause == 1, verdicts["competing_on"])
    end = end.where(cause > 0, verdicts["seen_until"])
    days = (end - cases["performed_on"]).dt.days.clip(lower=0)
    table = pd.DataFrame({"days": days, "cause": cause}, index=cases.index)
    usable = (verdicts["not_evaluable"] == "") & table["days"].notna()
    return table.loc[usable].astype({"days": float, "cause": int})
