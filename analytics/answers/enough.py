"""How much more would we need? What a comparison would tell after more years of operating."""

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from analytics.answers.outcomes import Answer, GroupRow, percent
from analytics.estimators.precision import detectable, expected_interval, power
from analytics.estimators.results import Estimate

# Four times in five: common practice, no source.
WANTED = 0.8
SHOWN = (0, 1, 2, 3, 4, 5, 7, 10, 15)
SOON, FEASIBLE, MOST = 5, 10, 50
# The volume is that of the last two years: less would hang on a holiday, more on what was done before.
LOOK_BACK = 2
DAYS_A_YEAR = 365.25


@dataclass(frozen=True)
class Side:
    """One of the two groups: what was seen of it, what is supposed, how many come each year.

    `rate` is the share supposed, `typed` whether somebody typed it. `a_year` is judged cases a year:
    those operated a year times the share of the eligible that could be judged, unless it was typed.
    """

    group: str
    events: int
    evaluable: int
    eligible: int
    operated_a_year: float
    rate: float | None
    a_year: float
    typed: bool = False
    typed_a_year: bool = False

    def after(self, years: int) -> int:
        """Return how many are judged after so many more years."""
        return self.evaluable + round(years * self.a_year)


@dataclass(frozen=True)
class Year:
    """What the comparison is expected to tell after so many more years."""

    years: int
    one: int
    other: int
    interval: Estimate
    power: float

    @property
    def width(self) -> float:
        """The expected width of the interval."""
        return self.interval.high - self.interval.low


@dataclass(frozen=True)
class EnoughAnswer:
    """The two groups, the years ahead, and the finding in words.

    `needed` is the first year in which the difference would be told four times in five, None when
    not within MOST years. `soon` are the rates of the first group that would be told from the
    second's within SOON years.
    """

    one: Side
    other: Side
    years: tuple[Year, ...]
    needed: int | None
    soon: tuple[float | None, float | None] | None
    sentence: str


@dataclass(frozen=True)
class Typed:
    """What somebody typed of a group in place of what was seen; the rate is a share."""

    rate: float | None = None
    a_year: float | None = None


NOTHING = Typed()


def sides_of(result: Answer, one: str, other: str) -> tuple[str, str]:
    """Return the two groups to compare: those named, else those with the most judged cases.

    Raises ValueError where there are fewer than two groups, for a group that is not among them, or
    for one group named twice.
    """
    groups = [row.group for row in result.rows]
    unknown = [name for name in (one, other) if name and name not in groups]
    if unknown:
        raise ValueError(f"'{unknown[0]}' is not one of {', '.join(groups) or 'no groups'}")
    if len(groups) < 2:
        raise ValueError("a comparison takes two groups, and there are fewer in this cohort")
    if one and one == other:
        raise ValueError(f"'{one}' cannot be compared with itself")
    most = sorted(result.rows, key=lambda row: (-row.evaluable, row.group))
    free = [row.group for row in most if row.group not in (one, other)]
    first = one or free.pop(0)
    return first, other or free[0]


def side(row: GroupRow, cases: pd.DataFrame, end: pd.Timestamp, typed: Typed = NOTHING) -> Side:
    """Return one group with its yearly volume; `cases` are its operations, `end` the last day."""
    volume = yearly(cases["performed_on"], end)
    judged = row.evaluable / row.eligible if row.eligible else 0.0
    seen = row.events / row.evaluable if row.evaluable else None
    return Side(
        group=row.group,
        events=row.events,
        evaluable=row.evaluable,
        eligible=row.eligible,
        operated_a_year=volume,
        rate=seen if typed.rate is None else typed.rate,
        a_year=volume * judged if typed.a_year is None else typed.a_year,
        typed=typed.rate is not None,
        typed_a_year=typed.a_year is not None,
    )


def yearly(operated: "pd.Series[pd.Timestamp]", end: pd.Timestamp) -> float:
    """Return operations a year over the last two years, or since the first where that is shorter."""
    if operated.empty:
        return 0.0
    since = max(end - pd.DateOffset(years=LOOK_BACK), operated.min() - pd.Timedelta(days=1))
    # A first month of operating is no ground for a year's volume: it counts as half a year.
    years = max((end - since) / pd.Timedelta(days=1) / DAYS_A_YEAR, 0.5)
    return float(((operated > since) & (operated <= end)).sum() / years)


def answer(one: Side, other: Side) -> EnoughAnswer:
    """Return what more years at these volumes would tell of these rates."""
    ahead = [_year(one, other, years) for years in range(MOST + 1)]
    known = [year for year in ahead if year is not None]
    apart = one.rate is not None and other.rate is not None and one.rate != other.rate
    enough = [year.years for year in known if year.power >= WANTED] if apart else []
    needed = enough[0] if enough else None
    soon = _soon(one, other)
    return EnoughAnswer(
        one=one,
        other=other,
        years=tuple(year for year in known if year.years in SHOWN),
        needed=needed,
        soon=soon,
        sentence=f"{_finding(one, other, needed)} {_within(one, other, soon)}".strip(),
    )


def _year(one: Side, other: Side, years: int) -> Year | None:
    numbers = one.after(years), other.after(years)
    if one.rate is None or other.rate is None or min(numbers) < 1:
        return None
    given = one.rate, numbers[0], other.rate, numbers[1]
    return Year(years, *numbers, interval=expected_interval(*given), power=power(*given))


def _soon(one: Side, other: Side) -> tuple[float | None, float | None] | None:
    numbers = one.after(SOON), other.after(SOON)
    if other.rate is None or min(numbers) < 1:
        return None
    return detectable(other.rate, *numbers, wanted=WANTED)


def _finding(one: Side, other: Side, needed: int | None) -> str:
    if one.rate is None or other.rate is None:
        group = one.group if one.rate is None else other.group
        return f"Nobody of {group} is judged yet: type the rate that you expect."
    pair = f"{one.group} ({percent(one.rate)}) from {other.group} ({percent(other.rate)})"
    if one.rate == other.rate:
        return (
            "The same rate is supposed for both, so that no number tells them apart: read the width, or "
            "type the difference that would change what you do. Two rates seen alike need not be alike."
        )
    if needed == 0:
        return f"To tell {pair}, the numbers of today suffice four times in five."
    pace = f"{one.a_year:.1f} and {other.a_year:.1f} judged cases a year"
    if needed is None:
        return f"No feasible number: not even {MOST} years at {pace} would tell {pair} four times in five."
    if needed > FEASIBLE:
        return (
            f"No feasible number: to tell {pair} four times in five takes about {needed} years "
            f"at {pace}, and nobody keeps everything else the same for more than {FEASIBLE}."
        )
    s = "" if needed == 1 else "s"
    return f"To tell {pair} four times in five takes about {needed} more year{s} at {pace}."


def _within(one: Side, other: Side, soon: tuple[float | None, float | None] | None) -> str:
    if soon is None or other.rate is None:
        return ""
    parts = []
    if soon[0] is not None:
        parts.append(f"{percent(soon[0])} or less")
    if soon[1] is not None:
        parts.append(f"{percent(soon[1])} or more")
    beside = f"beside {percent(other.rate)} of {other.group}"
    if not parts:
        return f"Within {SOON} years no rate of {one.group} could be told {beside}."
    return f"Within {SOON} years a rate of {one.group} of {', or of '.join(parts)} could be told {beside}."


def to_rows(found: EnoughAnswer) -> list[dict[str, object]]:
    """Return the years as plain rows; shares, not percentages."""
    return [
        {
            "years": year.years,
            f"rate_{found.one.group}": found.one.rate,
            f"rate_{found.other.group}": found.other.rate,
            f"judged_{found.one.group}": year.one,
            f"judged_{found.other.group}": year.other,
            "difference": year.interval.estimate,
            "expected_low": year.interval.low,
            "expected_high": year.interval.high,
            "expected_width": year.width,
            "power": year.power,
        }
        for year in found.years
    ]


def cases_of(
    groups: "pd.Series[str]", cases: pd.DataFrame, names: Sequence[str]
) -> list[pd.DataFrame]:
    """Return the operations of each of some groups."""
    return [cases.loc[(groups.astype(str) == name).to_numpy()] for name in names]
