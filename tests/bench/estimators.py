"""Estimators beside libraries and plain kernels: `python -m pytest tests/bench/estimators.py`.

The plain kernels do the sum and nothing else: whole days, counts, cumulative sums, no check of what
they are given and no frame. All ways are measured in one run on the same rows and must agree; the
last test prints the ratios to the plain kernel, by the least of many repeats. One run, one machine:
the ratios say more than the times.
"""

import time
from collections.abc import Callable
from functools import cache
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from analytics.estimators.competing import cumulative_incidence
from analytics.estimators.resampling import bootstrap_survival
from analytics.estimators.survival import kaplan_meier, logrank

# Processor time: what else runs on the machine matters less to it.
pytestmark = [
    pytest.mark.filterwarnings("ignore"),
    pytest.mark.benchmark(timer=time.process_time),
]

SIZES = (1_000, 100_000)
GROUPS = 10
YEAR = 365
# The least seconds of each way, by task and size.
FOUND: dict[tuple[str, int], dict[str, float]] = {}
Days = NDArray[np.intp]


@cache
def rows(size: int) -> tuple[Days, Days, Days]:
    """Return days up to 2,200, causes 0 to 2 and groups, as one might see in a registry."""
    rng = np.random.default_rng(size)
    days = np.ceil(rng.weibull(0.9, size) * 600).astype(int).clip(1, 2200)
    return days, rng.choice(3, size, p=[0.27, 0.54, 0.19]), rng.integers(0, GROUPS, size)


def plain_curve(days: Days, happened: Days) -> tuple[Any, ...]:
    """Return survival with Greenwood's error and log-log limits."""
    leaving = np.bincount(days)
    events = np.bincount(days[happened == 1], minlength=leaving.size)
    at_risk = leaving[::-1].cumsum()[::-1]
    kept = np.flatnonzero(leaving)
    n, d = at_risk[kept], events[kept]
    survival = np.cumprod(1 - d / n)
    with np.errstate(divide="ignore", invalid="ignore"):
        std_error = survival * np.sqrt(np.cumsum(d / (n * (n - d))))
        spread = 1.959963984540054 * std_error / (survival * np.log(survival))
        return survival, std_error, survival ** np.exp(-spread), survival ** np.exp(spread)


def plain_incidence(days: Days, causes: Days) -> tuple[Any, ...]:
    """Return the incidence of cause 1 with its delta-method error."""
    cells = np.bincount(3 * days + causes).reshape(-1, 3)
    cells = cells[cells.any(axis=1)]
    n = cells.sum(axis=1)[::-1].cumsum()[::-1].astype(float)
    d, every = cells[:, 1], cells[:, 1] + cells[:, 2]
    before = np.concatenate([[1.0], np.cumprod(1 - every / n)[:-1]])
    share = np.cumsum(before * d / n)
    with np.errstate(divide="ignore", invalid="ignore"):
        left = np.where(n > every, every / (n * (n - every)), 0.0)
    own, mixed = before**2 * d * (n - d) / n**3, before * d / n**2
    variance = share**2 * left.cumsum() - 2 * share * np.cumsum(left * share)
    variance += np.cumsum(left * share**2) + own.cumsum()
    variance -= 2 * (share * mixed.cumsum() - np.cumsum(mixed * share))
    return share, np.sqrt(np.maximum(variance, 0.0))


def plain_test(days: Days, happened: Days, groups: Days) -> float:
    """Return the log-rank statistic."""
    cells = np.bincount((days * GROUPS + groups) * 2 + happened, minlength=2 * GROUPS * 2201)
    cells = cells.reshape(-1, GROUPS, 2)
    at_risk, events = cells.sum(axis=2)[::-1].cumsum(axis=0)[::-1], cells[:, :, 1]
    kept = np.flatnonzero(events.any(axis=1))
    at_risk, events = at_risk[kept].astype(float), events[kept].astype(float)
    n, d = at_risk.sum(axis=1), events.sum(axis=1)
    share, terms = at_risk / n[:, None], d * (n - d) / np.maximum(n - 1, 1)
    gap = (events.sum(axis=0) - d @ share)[:-1]
    variance = np.diag(terms @ share) - (share * terms[:, None]).T @ share
    return float(gap @ np.linalg.solve(variance[:-1, :-1], gap))


def lifelines_curve(days: Days, happened: Days) -> float:
    """Return the survival at a year, after a curve with limits."""
    from lifelines import KaplanMeierFitter  # noqa: PLC0415  # heavy

    return float(KaplanMeierFitter().fit(days, happened).survival_function_at_times(YEAR).iloc[0])


def statsmodels_curve(days: Days, happened: Days) -> float:
    """Return the survival at a year, after a curve with errors."""
    from statsmodels.duration.survfunc import SurvfuncRight  # noqa: PLC0415  # heavy

    found = SurvfuncRight(days, happened)
    return float(found.surv_prob[np.searchsorted(found.surv_times, YEAR, side="right") - 1])


def lifelines_incidence(days: Days, causes: Days) -> float:
    """Return the incidence at a year; tied causes are parted by chance."""
    from lifelines import AalenJohansenFitter  # noqa: PLC0415  # heavy

    found = AalenJohansenFitter(seed=1).fit(days, causes, event_of_interest=1)
    return float(found.cumulative_density_.loc[: YEAR + 0.5].iloc[-1, 0])


def statsmodels_incidence(days: Days, causes: Days) -> float:
    """Return the incidence at a year, after both causes with errors."""
    from statsmodels.duration.survfunc import CumIncidenceRight  # noqa: PLC0415  # heavy

    found = CumIncidenceRight(days, causes)
    return float(found.cinc[0][np.searchsorted(found.times, YEAR, side="right") - 1])


def lifelines_test(days: Days, happened: Days, groups: Days) -> float:
    """Return the log-rank statistic."""
    from lifelines.statistics import multivariate_logrank_test  # noqa: PLC0415  # heavy

    return float(multivariate_logrank_test(days, groups, happened).test_statistic)


def statsmodels_test(days: Days, happened: Days, groups: Days) -> float:
    """Return the log-rank statistic."""
    from statsmodels.duration.survfunc import survdiff  # noqa: PLC0415  # heavy

    return float(survdiff(days, happened, groups)[0])


def at_a_year(days: Days, curve: Any) -> float:
    """Return the value of a plain curve at a year."""
    return float(curve[np.searchsorted(np.unique(days), YEAR, side="right") - 1])


# Each task: its ways, and how to read one number out of what ours and the plain kernel return.
TASKS: dict[str, dict[str, Callable[..., Any]]] = {
    "Kaplan-Meier": {
        "plain": plain_curve,
        "ours": kaplan_meier,
        "statsmodels": statsmodels_curve,
        "lifelines": lifelines_curve,
    },
    "Aalen-Johansen": {
        "plain": plain_incidence,
        "ours": lambda days, causes: cumulative_incidence(days, causes, 1),
        "statsmodels": statsmodels_incidence,
        "lifelines": lifelines_incidence,
    },
    "log-rank": {
        "plain": plain_test,
        "ours": logrank,
        "statsmodels": statsmodels_test,
        "lifelines": lifelines_test,
    },
}
READ = {
    "Kaplan-Meier": lambda found: found.loc[:YEAR, "survival"].iloc[-1],
    "Aalen-Johansen": lambda found: found.loc[:YEAR, "incidence"].iloc[-1],
    "log-rank": lambda found: found.statistic,
}


def asked(task: str, size: int) -> tuple[Days, ...]:
    """Return what the ways of a task are given."""
    days, causes, groups = rows(size)
    happened = (causes == 1).astype(int)
    given = {"Kaplan-Meier": (days, happened), "Aalen-Johansen": (days, causes)}
    return given.get(task, (days, happened, groups))


def number(task: str, how: str, found: Any, days: Days) -> float:
    """Return the one number by which the ways are compared."""
    if how == "ours":
        return float(READ[task](found))
    return at_a_year(days, found[0]) if isinstance(found, tuple) else float(found)


# lifelines does not end in ten minutes with 100,000 rows of competing causes.
WAYS = [
    (task, size, how)
    for task in TASKS
    for size in SIZES
    for how in TASKS[task]
    if (task, size, how) != ("Aalen-Johansen", 100_000, "lifelines")
]


@pytest.mark.parametrize(("task", "size", "how"), WAYS)
def test_every_way_gives_the_same_number(benchmark: Any, task: str, size: int, how: str) -> None:
    benchmark.group = f"{task}, {size:,} rows"
    given, way = asked(task, size), TASKS[task][how]
    repeats = 100 if how in ("plain", "ours") else 5
    found = benchmark.pedantic(way, given, rounds=repeats, warmup_rounds=1)
    FOUND.setdefault((task, size), {})[how] = benchmark.stats.stats.min
    expected = number(task, "ours", TASKS[task]["ours"](*given), given[0])
    # lifelines parts tied causes by chance.
    allowed = 1e-3 if (task, how) == ("Aalen-Johansen", "lifelines") else 1e-8
    assert number(task, how, found, given[0]) == pytest.approx(expected, abs=allowed)


@pytest.mark.parametrize("cases", [2_000, 24_000])
def test_resamples_of_twelve_groups(benchmark: Any, cases: int) -> None:
    benchmark.group = f"2,000 resamples of twelve curves at a year, {cases:,} cases in all"
    days, causes, _ = rows(100_000)
    given = (days[:cases], causes[:cases] == 1, np.arange(cases) % 12, YEAR)
    found = benchmark.pedantic(bootstrap_survival, given, rounds=3, warmup_rounds=1)
    FOUND["2,000 resamples of twelve curves", cases] = {"ours": benchmark.stats.stats.min}
    assert found.shape == (2000, 12)


def test_ratios_to_the_plain_kernel(capsys: pytest.CaptureFixture[str]) -> None:
    with capsys.disabled():
        print("\n\ntask | rows | least ms of the plain kernel | ours | statsmodels | lifelines")
        for (task, size), ways in FOUND.items():
            if "plain" not in ways:
                print(f"{task} | {size:,} cases | ours {ways['ours']:.2f} s")
                continue
            others = ("ours", "statsmodels", "lifelines")
            ratios = (f"{ways[how] / ways['plain']:.2f}" for how in others if how in ways)
            print(task, f"{size:,}", f"{ways['plain'] * 1e3:.3f}", *ratios, sep=" | ")
    for (task, size), ways in FOUND.items():
        # At 1,000 rows the frame itself is half of the time.
        if "plain" in ways and size == max(SIZES):
            assert ways["ours"] <= 1.5 * ways["plain"], task
