"""Agreement against published tables. Each row names its source and how its value is known."""

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray

from analytics.estimators.agreement import (
    Model,
    icc,
    kappa,
    limits_of_agreement,
    mean_squares,
    minimal_detectable_change,
)

DATA = Path(__file__).parent / "data"

# Six subjects, four judges: Shrout and Fleiss, Psychol Bull 1979;86:420-428, Table 2.
JUDGED = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]

# Their Table 4 prints .17 .29 .71 .44 .62 .91 (.290 read in the help of the R package psych, the
# others from memory); digits and intervals by psych 2.2.9, of which irr 0.84.1 gives the second.
CORRELATIONS: list[tuple[Model, float, float, float]] = [
    ("ICC(1,1)", 0.165741768405476, -0.132932324874751, 0.722560062328121),
    ("ICC(2,1)", 0.289763779527559, 0.018786513374712, 0.761084369648953),
    ("ICC(3,1)", 0.714840714840715, 0.342464765033925, 0.94585825995536),
    ("ICC(1,k)", 0.442797133679269, -0.884442155238119, 0.912415420340776),
    ("ICC(2,k)", 0.620050547598989, 0.0711368153025035, 0.927232040167722),
    ("ICC(3,k)", 0.909315542377069, 0.675674713816305, 0.985891678169062),
]

DIAGNOSES = [[88, 14, 18], [10, 40, 10], [2, 6, 12]]
WINNIPEG = [[38, 5, 0, 1], [33, 11, 3, 0], [10, 14, 5, 6], [3, 7, 3, 10]]


@pytest.mark.parametrize(("model", "estimate", "low", "high"), CORRELATIONS)
def test_judges_correlate_as_published(
    model: Model, estimate: float, low: float, high: float
) -> None:
    found = icc(JUDGED, model)
    assert (found.estimate, found.low, found.high) == pytest.approx((estimate, low, high), abs=1e-9)


def test_mean_squares_are_as_published() -> None:
    # Their Table 3: 11.24, 32.49, 1.02, 6.26 (from memory, reproduced by psych).
    found = mean_squares(JUDGED)
    shown = (found.between, found.by_rater, found.residual, found.within)
    assert shown == pytest.approx((11.2416667, 32.4861111, 1.0194444, 6.2638889), abs=1e-7)


@pytest.mark.parametrize(
    ("error", "sem", "change"),
    [
        ("consistency", 1.00967541539073, 2.79862603974048),
        ("agreement", 2.5027762362802, 6.93721431633241),
    ],
)
def test_the_detectable_change_is_as_computed_from_the_formulae(
    error: Any, sem: float, change: float
) -> None:
    # de Vet et al., J Clin Epidemiol 2006;59:1033-1039, on the same ratings; computed with R 4.2.2.
    # There 1.96 stands for z.
    found = minimal_detectable_change(JUDGED, error)
    assert found.std_error_of_measurement == pytest.approx(sem, abs=1e-9)
    assert found.estimate == pytest.approx(change, rel=2e-5)


def test_two_meters_agree_as_published() -> None:
    # Bland and Altman, Lancet 1986;i:307-310, first readings: mean -2.1, SD 38.8, limits of 2 SD
    # -79.7 and 75.5 from rounded figures; the lower limit's interval -114.3 to -45.1 and the limits
    # of 1.96 SD read in public tests, the rest from memory and reproduced by R 4.2.2.
    rows = pd.read_csv(DATA / "peak_flow.csv", comment="#")
    found = limits_of_agreement(rows["wright1"], rows["mini1"], factor=2)
    assert (found.estimate, found.sd) == pytest.approx((-2.11764705882353, 38.7651298736074))
    assert (found.low, found.high) == pytest.approx((-79.6479068060383, 75.4126126883912))
    assert (found.low, found.high) == pytest.approx((-79.7, 75.5), abs=0.1)
    for interval, ends in (
        (found.mean, (-22.0488376966452, 17.8135435789981)),
        (found.lower, (-114.169741646087, -45.1260719659901)),
        (found.upper, (40.890777848343, 109.934447528439)),
    ):
        assert (interval.low, interval.high) == pytest.approx(ends)
    plain = limits_of_agreement(rows["wright1"], rows["mini1"])
    assert (plain.low, plain.high) == pytest.approx((-78.0959, 73.8606), abs=5e-5)


@pytest.mark.parametrize(("meter", "coefficient"), [("wright", 43.2937979), ("mini", 56.3163334)])
def test_a_meters_readings_repeat_as_published(meter: str, coefficient: float) -> None:
    # The same paper: 43.2 and 56.4, twice the root mean square of the differences (from memory,
    # reproduced to rounding).
    rows = pd.read_csv(DATA / "peak_flow.csv", comment="#")
    found = minimal_detectable_change(rows[[f"{meter}1", f"{meter}2"]], "within")
    twice = 2 * np.sqrt(2) * found.std_error_of_measurement
    assert twice == pytest.approx(coefficient, abs=1e-6)
    if meter == "wright":
        assert found.std_error_of_measurement == pytest.approx(15.3066690578669)
        assert found.estimate == pytest.approx(42.4271423806615, rel=2e-5)


def spread_out(table: list[list[int]]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    counts = np.array(table)
    rows, columns = np.indices(counts.shape)
    return np.repeat(rows.ravel(), counts.ravel()), np.repeat(columns.ravel(), counts.ravel())


# Cohen, Educ Psychol Meas 1960;20:37-46: .49 (from memory; interval by psych 2.2.9). Cohen,
# Psychol Bull 1968;70:213-220: .348 weighed (table read in psych's help). Landis and Koch,
# Biometrics 1977;33:159: the Winnipeg patients, values by the R package vcd 1.4-11.
KAPPAS = [
    (DIAGNOSES, None, 0.491525423728813, 0.0510018),
    (DIAGNOSES, [[0, 1, 3], [1, 0, 6], [3, 6, 0]], 0.347826086956522, None),
    (WINNIPEG, None, 0.207942464040025, 0.050455365240877),
    (WINNIPEG, "linear", 0.379730547986679, 0.051666826218334),
    (WINNIPEG, "quadratic", 0.52457646433184, 0.0600550988317956),
]


@pytest.mark.parametrize(("table", "weights", "value", "std_error"), KAPPAS)
def test_kappas_are_as_published(
    table: list[list[int]], weights: Any, value: float, std_error: float | None
) -> None:
    found = kappa(*spread_out(table), weights)
    assert found.estimate == pytest.approx(value, abs=1e-9)
    if std_error is not None:
        assert found.std_error == pytest.approx(std_error, abs=1e-7)


def test_cohens_kappa_has_the_interval_of_psych() -> None:
    found = kappa(*spread_out(DIAGNOSES))
    assert (found.low, found.high) == pytest.approx((0.391563702053547, 0.59148714540408))
