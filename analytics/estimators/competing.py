"""Cumulative incidence where other events can come first."""

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from analytics.estimators.inputs import (
    Codes,
    Floats,
    as_codes,
    as_entries,
    as_groups,
    as_line,
    check_level,
    counted,
)
from analytics.estimators.results import GroupTest
from analytics.estimators.survival import (
    ROUNDING,
    log_log_limits,
    observed_expected,
    parts_of,
    quadratic_form,
)

COLUMNS = pd.Index(["at_risk", "events", "incidence", "std_error", "low", "high"])


def cumulative_incidence(
    durations: ArrayLike,
    causes: ArrayLike,
    cause: int,
    entry: ArrayLike | None = None,
    level: float = 0.95,
) -> pd.DataFrame:
    """Return the Aalen-Johansen cumulative incidence of one cause at every distinct time.

    `causes` holds 0 for censored and a positive number for each cause; a subject is at risk in
    (entry, duration]. Columns: at_risk, events (of this cause), incidence, std_error, low, high.
    The variance is the exact delta-method one; the interval is log-log and shrinks to a point
    where the incidence is 0. Raises ValueError on bad input.

    References: Aalen and Johansen 1978; delta-method variance as in Marubini and Valsecchi 1995,
    section 10.4; interval: Choudhury, Stat Med 2002;21:1129.
    """
    check_level(level)
    line = as_line(durations, "durations")
    kinds = as_codes(causes, line[1], "causes")
    _check_cause(cause)
    entered = None if entry is None else as_entries(entry, line[0][line[1]])
    points, at_risk, events, every = _counts(line, kinds, cause, entered)
    incidence, std_error = _incidence(at_risk, events, every)
    low, high = log_log_limits(incidence, std_error, level)
    values = np.array([at_risk, events, incidence, std_error, low, high])
    return pd.DataFrame(values.T, pd.Index(points, name="time"), COLUMNS, copy=False)


def _counts(
    line: tuple[Floats, Codes], kinds: NDArray[np.int_], cause: int, entered: Floats | None
) -> tuple[Floats, Floats, Floats, Floats]:
    points, place = line
    cells = counted((_three_kinds(kinds, cause), 3), (place, points.size))
    leaving = cells.sum(axis=0)
    kept = np.flatnonzero(leaving)
    points, events = points[kept], cells[1, kept].astype(float)
    at_risk = leaving[kept][::-1].cumsum()[::-1].astype(float)
    if entered is not None:
        ordered = np.sort(entered)
        at_risk = at_risk - (ordered.size - np.searchsorted(ordered, points, side="left"))
    return points, at_risk, events, events + cells[2, kept]


def _three_kinds(kinds: NDArray[np.int_], cause: int) -> NDArray[np.int_]:
    """Return 0 for censored, 1 for the cause and 2 for any other."""
    highest = int(kinds.max())
    if cause == 1 and highest <= 2:
        return kinds
    if highest > kinds.size:
        return np.where(kinds == cause, 1, np.where(kinds > 0, 2, 0))
    names = np.full(max(highest, cause) + 1, 2)
    names[[0, cause]] = 0, 1
    return names[kinds]


def gray_test(
    durations: ArrayLike,
    causes: ArrayLike,
    cause: int,
    groups: ArrayLike,
    strata: ArrayLike | None = None,
) -> GroupTest:
    """Test that the groups have one cumulative incidence of a cause, within strata if given.

    Somebody who had another event stays at risk in the sense of the subdistribution, as far as
    the group's own censoring leaves it. The statistic is chi-squared with one degree of freedom
    less than there are groups at risk at an event of the cause; without such an event it is 0 and
    p_value 1. Raises ValueError on bad input and on fewer than two groups.

    References: Gray, Ann Stat 1988;16:1141-1154, with rho 0.
    """
    points, place = as_line(durations, "durations")
    kinds = as_codes(causes, place, "causes")
    _check_cause(cause)
    group, labels = as_groups(groups, place.size, "groups")
    if labels.size < 2:
        raise ValueError("a comparison needs at least two groups")
    seen, expected = np.zeros(labels.size), np.zeros(labels.size)
    variance = np.zeros((labels.size, labels.size))
    kinds = _three_kinds(kinds, cause)
    for rows in parts_of(strata, place.size):
        axes = (kinds[rows], 3), (group[rows], labels.size), (place[rows], points.size)
        at_risk, own, other = _at_events(counted(*axes))
        foreseen, spread = _subdistribution(at_risk, own, other)
        seen += own.sum(axis=0)
        expected += foreseen
        variance += spread
    statistic, df, p_value = quadratic_form(seen - expected, variance)
    return GroupTest(statistic, df, p_value, observed_expected(seen, expected, labels))


def _at_events(cells: NDArray[np.intp]) -> tuple[Floats, Floats, Floats]:
    """Return who is at risk, and events of this and of other causes, a row for each event time."""
    kept = np.flatnonzero(cells[1:].sum(axis=(0, 1)))
    at_risk = cells.sum(axis=0)[:, ::-1].cumsum(axis=1)[:, ::-1]
    shown = (one[:, kept].T.astype(float) for one in (at_risk, cells[1], cells[2]))
    return tuple(shown)


def _subdistribution(at_risk: Floats, own: Floats, other: Floats) -> tuple[Floats, Floats]:
    """Return each group's expected events of the cause, and the variance of the differences.

    The names are those of Gray's paper where they can be: h = R/S(t-), the numbers at risk freed
    from the group's survival; those without the cause so far, (1 - F(t-)) of them, are at risk.
    """
    here = at_risk > 0
    n = np.where(here, at_risk, 1.0)
    survival = np.cumprod(1 - (own + other) / n, axis=0)
    before = _shifted(survival, 1.0)
    incidence = np.cumsum(before * own / n, axis=0)
    h = np.where(here, at_risk / np.where(before > 0, before, 1.0), 0.0)
    whole, events = h.sum(axis=1), own.sum(axis=1)
    in_danger = h * (1 - _shifted(incidence, 0.0))
    expected = ((events / in_danger.sum(axis=1))[:, None] * in_danger).sum(axis=0)

    # Under the hypothesis there is one incidence, F, whatever the group.
    step = events / whole
    pooled = np.cumsum(step)
    pooled_before = _shifted(pooled, 0.0)
    share = h / whole[:, None]
    # a[t, i, k]: what an event in group k at t adds to the score of group i.
    a = h[:, :, None] * (np.eye(h.shape[1]) - share[:, None, :])
    # Once a group is empty the sum can pass 1, and there is no hazard left to speak of.
    hazard = step / np.where(pooled_before < 1 - ROUNDING, 1 - pooled_before, np.inf)
    summed = np.cumsum(a * hazard[:, None, None], axis=0)
    later = summed[-1:] - summed
    free = np.maximum(1 - pooled, 0.0)[:, None]
    ratio = np.where(survival > 0, free / np.where(survival > 0, survival, 1.0), 0.0)
    ties = _tied(events[:, None], whole[:, None] * before)
    own_part = np.where(here, ties * before * step[:, None] / n, 0.0)
    other_part = _tied(other, n) * before**2 * other / n**2
    other_part = np.where(here & (survival > 0), other_part, 0.0)
    missed = np.where(survival > 0, 1 - ratio, 1.0)
    by_own = a + missed[:, None, :] * later
    by_other = ratio[:, None, :] * later
    variance = np.einsum("tik,tjk,tk->ij", by_own, by_own, own_part)
    return expected, variance + np.einsum("tik,tjk,tk->ij", by_other, by_other, other_part)


def _check_cause(cause: int) -> None:
    if not cause >= 1 or cause != int(cause):
        raise ValueError(f"the cause must be a whole number, 1 or more, got {cause}")


def _shifted(values: Floats, first: float) -> Floats:
    return np.concatenate([np.full_like(values[:1], first), values[:-1]])


def _tied(events: Floats, at_risk: Floats) -> Floats:
    """Return what several events at one time leave of the variance of as many at different ones."""
    return np.where(events > 1, 1 - (events - 1) / np.where(at_risk > 1, at_risk - 1, np.inf), 1.0)


def _incidence(at_risk: Floats, events: Floats, every: Floats) -> tuple[Floats, Floats]:
    risk = np.where(at_risk > 0, at_risk, 1.0)
    survival = np.cumprod(1 - every / risk)
    before = np.concatenate([[1.0], survival[:-1]])
    incidence = np.cumsum(before * events / risk)
    # Var F(t) = sum over s <= t of
    #   (F(t)-F(s))^2 d/(n(n-d)) + S(s-)^2 e(n-e)/n^3 - 2 (F(t)-F(s)) S(s-) e/n^2,
    # expanded in powers of F(t), so that one pass of cumulative sums gives every t.
    left = np.where(risk - every > 0, every / (risk * np.maximum(risk - every, 1e-300)), 0.0)
    own = before**2 * events * (risk - events) / risk**3
    mixed = before * events / risk**2
    a, b, c = np.cumsum(left), np.cumsum(left * incidence), np.cumsum(left * incidence**2)
    variance = (
        incidence**2 * a
        - 2 * incidence * b
        + c
        + np.cumsum(own)
        - 2 * (incidence * np.cumsum(mixed) - np.cumsum(mixed * incidence))
    )
    return incidence, np.sqrt(np.maximum(variance, 0.0))
