"""What to look at before anything else: completeness, coding and case mix of a cohort."""

from collections import Counter
from dataclasses import dataclass
from math import isfinite, sqrt
from typing import Any

import numpy as np
import pandas as pd

from analytics.answers.outcomes import percent
from analytics.endpoints.definition import REASONS
from analytics.estimators.balance import difference_of_means, difference_of_shares
from analytics.estimators.proportions import wilson
from analytics.estimators.results import Estimate

# An operation of the same shoulder so soon after another is more likely the same one typed twice.
DOUBLE_DAYS = 30
LATE_DAYS = 30
# The usual mark of a difference worth a thought (Austin, Stat Med 2009;28:3083, from memory).
MARKED = 0.1
# What a risk is adjusted for, or a group is told by; empty or 'unknown' is missing.
ASKED = {
    "age_years": "age",
    "sex": "sex",
    "other_shoulder": "state of the other shoulder",
    "construct_type": "construct type",
    "surgeon_id": "surgeon",
}


@dataclass(frozen=True)
class Share:
    """So many of so many, with Wilson's interval; None where there is nobody to be counted."""

    words: str
    number: int
    of: int
    rate: Estimate | None

    @property
    def written(self) -> str:
        """The share as it is read: number, denominator, percentage and interval."""
        if self.rate is None:
            return "nobody to count"
        ends = f"{percent(self.rate.low)} to {percent(self.rate.high)}"
        return f"{self.number} of {self.of}, {percent(self.rate.estimate)} ({ends})"


@dataclass(frozen=True)
class Delay:
    """Days from an event to its entry: median, nine tenths, and how many took over a month."""

    words: str
    number: int
    median: float
    nine_tenths: float
    late: int

    @property
    def written(self) -> str:
        """The delay as it is read."""
        if not self.number:
            return "nothing entered"
        return (
            f"median {self.median:.0f} days, nine tenths within {self.nine_tenths:.0f}; "
            f"{self.late} of {self.number} after more than {LATE_DAYS}"
        )


@dataclass(frozen=True)
class Difference:
    """One fact of the cases in the baseline and since, with its standardised difference.

    `standardised` is None where it cannot be computed: nobody, or nobody who differs.
    """

    words: str
    before: str
    since: str
    standardised: float | None

    @property
    def marked(self) -> bool:
        """Whether the difference is beyond the usual mark."""
        return self.standardised is not None and abs(self.standardised) > MARKED


@dataclass(frozen=True)
class Checks:
    """The three checks of a cohort; `before` and `since` are the numbers compared in case mix.

    `by_chance` is how large a standardised difference of such numbers often is by chance alone
    (95 per cent stay below it).
    """

    evaluable: Share
    reasons: tuple[tuple[str, int], ...]
    coding: tuple[Share, ...]
    delays: tuple[Delay, ...]
    doubles: tuple[tuple[int, ...], ...]
    mix: tuple[Difference, ...]
    before: int
    since: int
    by_chance: float | None


def checks(
    states: pd.DataFrame,
    cases: pd.DataFrame,
    complications: pd.DataFrame,
    readings: pd.DataFrame,
    baseline: pd.DataFrame,
) -> Checks:
    """Compute the three checks of some cases against those of a baseline period.

    `states` as in `watched.states`; the frames as in `Data`, with the day of entry as recorded_on.
    """
    eligible = states.loc[states["state"] != "not_eligible"]
    judged = int((eligible["state"] != "not_evaluable").sum())
    reasons = Counter(eligible.loc[eligible["reason"] != "", "reason"])
    before, since = len(baseline), len(cases)
    return Checks(
        evaluable=_share("could be judged at the horizon", judged, len(eligible)),
        reasons=tuple((REASONS[code], reasons[code]) for code in REASONS if reasons[code]),
        coding=_coding(cases, complications),
        delays=(
            _delay("operations", cases["recorded_on"], cases["performed_on"]),
            _delay("complications", complications["recorded_on"], complications["detected_on"]),
            _delay("readings of films", readings["recorded_on"], readings["taken_on"]),
        ),
        doubles=double_entries(cases),
        mix=_mix(baseline, cases),
        before=before,
        since=since,
        by_chance=1.96 * sqrt((before + since) / (before * since)) if before and since else None,
    )


def double_entries(cases: pd.DataFrame) -> tuple[tuple[int, ...], ...]:
    """Return the keys of index procedures that may be one entered twice.

    The same patient's same side within a month; or another patient of the same age, sex and side,
    operated on by the same surgeon on the same day at the same site.
    """
    ordered = cases.sort_values(["patient_key", "side", "performed_on"], kind="stable")
    same = ordered[["patient_key", "side"]].eq(ordered[["patient_key", "side"]].shift()).all(axis=1)
    near = ordered["performed_on"].diff() <= pd.Timedelta(days=DOUBLE_DAYS)
    places = np.flatnonzero((same & near).to_numpy())
    keys = ordered.index.to_numpy()
    found: list[tuple[int, ...]] = [(int(keys[place - 1]), int(keys[place])) for place in places]
    alike = ["site", "performed_on", "side", "age_years", "sex", "surgeon_id"]
    whole = cases.dropna(subset=alike)
    twice = whole.loc[whole.duplicated(alike, keep=False)]
    for _, group in twice.groupby(alike, sort=True):
        if group["patient_key"].nunique() > 1:
            found.append(tuple(int(key) for key in group.index))
    return tuple(dict.fromkeys(found))


def to_facts(found: Checks, subject: str) -> dict[str, str]:
    """Return the numbers of one check as plain words, to be kept with what was found of them."""
    if subject == "completeness":
        return {
            found.evaluable.words: found.evaluable.written,
            **{w: str(n) for w, n in found.reasons},
        }
    if subject == "coding":
        return {
            **{one.words: one.written for one in found.coding},
            **{f"entry of {one.words}": one.written for one in found.delays},
            "possible double entries": str(len(found.doubles)),
        }
    return {
        "cases compared": f"{found.before} before, {found.since} since",
        **{
            one.words: f"{one.before}; {one.since}; standardised difference {number(one.standardised)}"
            for one in found.mix
        },
    }


def number(value: float | None) -> str:
    """Write a standardised difference."""
    if value is None:
        return "not computable"
    return f"{value:+.2f}" if isfinite(value) else "all against none"


def _share(words: str, number: int, of: int) -> Share:
    return Share(words, number, of, wilson(number, of) if of else None)


def _coding(cases: pd.DataFrame, complications: pd.DataFrame) -> tuple[Share, ...]:
    shares = []
    for kind, column, words in (
        ("lateral_clavicle", "neer", "fractures without a Neer class"),
        ("ac_joint", "rockwood", "joint injuries without a Rockwood class"),
    ):
        mine = cases.loc[cases["injury_kind"] == kind, column]
        shares.append(_share(words, int(mine.isna().sum()), len(mine)))
    for column, words in ASKED.items():
        values = cases[column].astype(object)
        missing = int((values.isna() | values.isin(["", "unknown"])).sum())
        shares.append(_share(f"operations without {words}", missing, len(cases)))
    undated = int(complications["onset_on"].isna().sum())
    other = int((complications["kind"] == "other").sum())
    shares.append(_share("complications without a day of onset", undated, len(complications)))
    shares.append(_share("complications of kind 'other'", other, len(complications)))
    return tuple(shares)


def _delay(words: str, entered: "pd.Series[Any]", happened: "pd.Series[Any]") -> Delay:
    days = ((entered - happened).dt.days).dropna().to_numpy(dtype=float)
    if not days.size:
        return Delay(words, 0, 0.0, 0.0, 0)
    return Delay(
        words=words,
        number=days.size,
        median=float(np.median(days)),
        nine_tenths=float(np.quantile(days, 0.9)),
        late=int((days > LATE_DAYS).sum()),
    )


def _mix(before: pd.DataFrame, since: pd.DataFrame) -> tuple[Difference, ...]:
    ages = [frame["age_years"].to_numpy(dtype=float, na_value=np.nan) for frame in (before, since)]
    apart = difference_of_means(ages[1], ages[0])
    rows = [Difference("age in years", _mean(ages[0]), _mean(ages[1]), apart)]
    rows.append(_level("female", "sex", "female", before, since))
    rows.append(_level("fracture", "injury_kind", "lateral_clavicle", before, since))
    for column, words in (
        ("neer", "Neer class"),
        ("rockwood", "Rockwood class"),
        ("construct_type", "construct type"),
    ):
        values = sorted({*before[column].dropna(), *since[column].dropna()})
        rows += [_level(f"{words} {value}", column, value, before, since) for value in values]
    return tuple(rows)


def _level(
    words: str, column: str, value: str, before: pd.DataFrame, since: pd.DataFrame
) -> Difference:
    """Compare the share of one value among those of whom it is recorded."""
    sides = []
    for frame in (before, since):
        known = frame[column].dropna().astype(object)
        sides.append((known == value).to_numpy(dtype=float))
    shown = [f"{int(side.sum())} of {side.size}" for side in sides]
    apart = (
        difference_of_shares(float(sides[1].mean()), float(sides[0].mean()))
        if sides[0].size and sides[1].size
        else None
    )
    return Difference(words, shown[0], shown[1], apart)


def _mean(values: Any) -> str:
    known = values[~np.isnan(values)]
    return f"mean {known.mean():.1f}" if known.size else "not known"
