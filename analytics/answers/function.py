"""How do they move and feel? Motion and scores over time by group, with what is missing."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from analytics.answers import horizons
from analytics.answers.completeness import Share
from analytics.answers.horizons import HORIZONS, Horizon
from analytics.answers.measures import LEVELS, Measure
from analytics.answers.outcomes import ALL, groups_of
from analytics.estimators.change import Middle, Spread, median_interval, spread

MISSING: dict[str, str] = {
    "withdrawn": "withdrew",
    "moved": "moved away",
    "window_open": "window still open",
    "not_computable": "not computable",
    "not_measured": "seen, not measured",
    "not_seen": "not seen",
}
HARDWARE = {"yes": "in place", "no": "out", "unknown": "not said"}


@dataclass(frozen=True)
class StepRow:
    """One measure of one group at one horizon.

    eligible = with a value + missing; those who died or were revised before are not eligible, since
    a later construct would be measured. `spread` is of values, `quartiles` names levels; exactly one
    of the two is there. `cases` has the keys behind each number.
    """

    group: str
    horizon: Horizon
    eligible: int
    number: int
    ended: int
    missing: Mapping[str, int]
    spread: Spread | None
    quartiles: tuple[str, str, str] | None
    levels: tuple[int, ...]
    acceptable: Share | None
    hardware: Mapping[str, int]
    cases: Mapping[str, tuple[int, ...]]


@dataclass(frozen=True)
class ChangeRow:
    """Change within people from their first value to the horizon.

    For levels, which have no distance, only how many rose, stayed and fell.
    """

    group: str
    pairs: int
    change: Middle | None
    rose: int
    same: int
    fell: int
    first_day: float | None


@dataclass(frozen=True)
class FunctionAnswer:
    """A measure by group at every horizon, and its change up to the chosen one."""

    measure: Measure
    horizon: Horizon
    rows: tuple[StepRow, ...]
    changes: tuple[ChangeRow, ...]

    @property
    def shown(self) -> tuple[StepRow, ...]:
        """The rows for which somebody was operated long enough ago."""
        return tuple(row for row in self.rows if row.eligible)

    def at(self, horizon: str, group: str = ALL) -> StepRow | None:
        """Return the row of a group at a horizon."""
        found = (r for r in self.rows if (r.horizon.code, r.group) == (horizon, group))
        return next(found, None)


def measured(
    measure: Measure, scores: pd.DataFrame, motion: pd.DataFrame, cases: pd.DataFrame
) -> pd.DataFrame:
    """Return every value of a measure, one row each, in order of time.

    Columns: procedure_id, on, day, horizon, value (NaN where none could be computed), hardware.
    Motion is active and of the injured side; a level is its place from 0, the lowest. Values from
    the day of a revision on are left out: they are of another construct.
    """
    if measure.kind == "score":
        rows = scores.loc[scores["instrument"] == measure.code]
        parts = rows["answered_on"], rows["total"], rows["hardware_in_place"]
    else:
        mine = (motion["movement"] == measure.code) & (motion["side"] == "injured")
        rows = motion.loc[mine & (motion["mode"] == "active")]
        value = rows["level_rank"] if measure.kind == "level" else rows["value_deg"]
        parts = rows["examined_on"], value, _hardware(rows, cases)
    frame = pd.DataFrame(
        {
            "procedure_id": rows["procedure_id"].to_numpy(),
            "on": parts[0].to_numpy(),
            "day": rows["day"].to_numpy(dtype=float),
            "horizon": rows["horizon"].astype(str).to_numpy(),
            "value": parts[1].to_numpy(dtype=float, na_value=np.nan),
            "hardware": np.asarray(parts[2].astype(str)),
        }
    )
    revised = cases["revised_on"].reindex(frame["procedure_id"]).to_numpy()
    before = ~(frame["on"].to_numpy() >= revised)
    kept = frame.loc[before & frame["procedure_id"].isin(cases.index).to_numpy()]
    return kept.sort_values(["on"], kind="stable", ignore_index=True)


def _hardware(rows: pd.DataFrame, cases: pd.DataFrame) -> "pd.Series[str]":
    """Say whether the hardware was in on the day of an exam, by the first removal."""
    removed = cases["removed_on"].reindex(rows["procedure_id"]).to_numpy()
    out = rows["examined_on"].to_numpy() >= removed
    return pd.Series(np.where(out, "no", "yes"), index=rows.index, dtype="str")


def answer(
    measure: Measure,
    values: pd.DataFrame,
    cases: pd.DataFrame,
    horizon: Horizon,
    cutoff: pd.Timestamp,
    by: str,
) -> FunctionAnswer:
    """Return a measure by group and horizon; `values` are those of `measured`."""
    groups = groups_of(cases, by)
    named = [(str(name), rows.index) for name, rows in cases.groupby(groups, sort=True)]
    named.append((ALL, cases.index))
    rows = []
    for one in HORIZONS.values():
        found = states(values, cases, one, cutoff)
        rows += [_row(measure, name, one, found.loc[keys]) for name, keys in named]
    known = states(values, cases, horizon, cutoff)["state"] == "has"
    pairs = pairs_of(values, horizon).reindex(cases.index[known])
    return FunctionAnswer(
        measure=measure,
        horizon=horizon,
        rows=tuple(rows),
        changes=tuple(_change(measure, name, pairs.reindex(keys)) for name, keys in named),
    )


def states(
    values: pd.DataFrame, cases: pd.DataFrame, horizon: Horizon, cutoff: pd.Timestamp
) -> pd.DataFrame:
    """Return for each case its last value that counts for a horizon, or why there is none.

    Columns: state (not_eligible, ended, has, missing), reason, value, hardware.
    """
    due = horizons.due_on(cases, horizon).to_numpy()
    opens = due - np.timedelta64(horizon.before_days, "D")
    closes = due + np.timedelta64(horizon.after_days, "D")
    here = values.loc[values["horizon"] == horizon.code]
    asked = here.groupby("procedure_id")["value"].size().reindex(cases.index).notna().to_numpy()
    last = here.dropna(subset=["value"]).drop_duplicates("procedure_id", keep="last")
    last = last.set_index("procedure_id").reindex(cases.index)
    status, since = cases["patient_status"].to_numpy(), cases["status_on"].to_numpy()
    left = since <= due
    over = (left & (status == "died")) | (cases["revised_on"].to_numpy() <= due)
    has = last["value"].notna().to_numpy()
    state = np.select(
        [due > cutoff.to_numpy(), over, has], ["not_eligible", "ended", "has"], "missing"
    )
    reason = np.select(
        [
            asked,
            left & (status == "withdrawn"),
            left & (status == "moved"),
            cases["last_seen_on"].to_numpy() >= opens,
            closes >= cutoff.to_numpy(),
        ],
        ["not_computable", "withdrawn", "moved", "not_measured", "window_open"],
        "not_seen",
    )
    return pd.DataFrame(
        {
            "state": state.astype(object),
            "reason": np.where(state == "missing", reason, "").astype(object),
            "value": last["value"].to_numpy(dtype=float),
            "hardware": last["hardware"].to_numpy(dtype=object),
        },
        index=cases.index,
    )


def _row(measure: Measure, group: str, horizon: Horizon, found: pd.DataFrame) -> StepRow:
    has = found.loc[found["state"] == "has"]
    missing = found.loc[found["state"] == "missing"]
    values = has["value"].to_numpy(dtype=float)
    level = measure.kind == "level"
    behind = {f"missing:{code}": missing.loc[missing["reason"] == code] for code in MISSING}
    parts = {"has": has, "missing": missing, **behind}
    return StepRow(
        group=group,
        horizon=horizon,
        eligible=len(has) + len(missing),
        number=len(has),
        ended=int((found["state"] == "ended").sum()),
        missing={code: len(behind[f"missing:{code}"]) for code in MISSING},
        spread=None if level else spread(values),
        quartiles=_levels(values) if level else None,
        levels=tuple(int((values == place).sum()) for place in range(len(LEVELS))) if level else (),
        acceptable=_acceptable(measure, values),
        hardware={code: int((has["hardware"] == code).sum()) for code in HARDWARE},
        cases={name: tuple(rows.index.tolist()) for name, rows in parts.items()},
    )


def _levels(
    ranks: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]",
) -> tuple[str, str, str] | None:
    """Return the levels that a quarter, half and three quarters do not exceed: levels that were seen."""
    if not ranks.size:
        return None
    places = np.quantile(ranks, [0.25, 0.5, 0.75], method="inverted_cdf")
    lower, middle, upper = (LEVELS[int(place)] for place in places)
    return lower, middle, upper


def _acceptable(
    measure: Measure, values: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]"
) -> Share | None:
    if measure.acceptable is None:
        return None
    return Share(sum(measure.reaches(value) for value in values.tolist()), values.size)


def pairs_of(values: pd.DataFrame, horizon: Horizon) -> pd.DataFrame:
    """Return for each case with two values its first ever, with its day, and the last at a horizon.

    Columns: first, day, last. The first has to be of an earlier day than the last.
    """
    known = values.dropna(subset=["value"])
    first = known.drop_duplicates("procedure_id", keep="first").set_index("procedure_id")
    here = known.loc[known["horizon"] == horizon.code]
    last = here.drop_duplicates("procedure_id", keep="last").set_index("procedure_id")
    both = first[["value", "day", "on"]].rename(columns={"value": "first"})
    both = both.join(last.rename(columns={"value": "last", "on": "until"})[["last", "until"]])
    return both.loc[both["on"] < both["until"], ["first", "day", "last"]]


def _change(measure: Measure, group: str, pairs: pd.DataFrame) -> ChangeRow:
    known = pairs.dropna(subset=["first", "last"])
    changed = (known["last"] - known["first"]).to_numpy(dtype=float)
    return ChangeRow(
        group=group,
        pairs=len(known),
        change=None if measure.kind == "level" else median_interval(changed),
        rose=int((changed > 0).sum()),
        same=int((changed == 0).sum()),
        fell=int((changed < 0).sum()),
        first_day=float(known["day"].median()) if len(known) else None,
    )


def to_rows(found: FunctionAnswer) -> list[dict[str, object]]:
    """Return steps, then changes, as plain rows."""
    return [*step_rows(found), *(_plain_change(found, row) for row in found.changes)]


def step_rows(found: FunctionAnswer) -> list[dict[str, object]]:
    """Return the steps alone as plain rows."""
    return [*map(_plain_step, found.shown)]


def _plain_step(row: StepRow) -> dict[str, object]:
    parts = row.spread
    values: dict[str, object] = {
        "median": parts.median if parts else None,
        "lower_quartile": parts.lower if parts else None,
        "upper_quartile": parts.upper if parts else None,
    }
    if row.quartiles:
        names = ("lower_quartile", "median", "upper_quartile")
        values.update(zip(names, row.quartiles, strict=True))
    return {
        "group": row.group,
        "horizon": row.horizon.code,
        "eligible": row.eligible,
        "number": row.number,
        **{f"missing_{code}": number for code, number in row.missing.items()},
        "died_or_revised_before": row.ended,
        **values,
        "acceptable": row.acceptable.number if row.acceptable else None,
        **{f"hardware_{code}": number for code, number in row.hardware.items()},
    }


def _plain_change(found: FunctionAnswer, row: ChangeRow) -> dict[str, object]:
    change = row.change
    return {
        "group": row.group,
        "horizon": f"first to {found.horizon.code}",
        "number": row.pairs,
        "median": change.median if change else None,
        "median_low_95": change.low if change else None,
        "median_high_95": change.high if change else None,
        "rose": row.rose,
        "same": row.same,
        "fell": row.fell,
    }
