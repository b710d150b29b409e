"""Cumulative incidence against published data sets, a worked table and two libraries."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analytics.estimators.competing import cumulative_incidence, gray_test
from analytics.estimators.survival import kaplan_meier

DATA = Path(__file__).parent / "data"

pytestmark = pytest.mark.filterwarnings("ignore::Warning:lifelines", "ignore:.*keyword-only")

# R survival 3.5-3, infinitesimal-jackknife standard errors, at 6, 12, 24 and 60 months.
TRANSPLANT = {
    ("ALL", 1): (
        [0.232876712328767, 0.342465753424658, 0.387557077625571, 0.387557077625571],
        [0.0494691199076192, 0.0555400584985879, 0.0575168653062454, 0.0575168653062454],
    ),
    ("AML", 1): (
        [0.153846153846154, 0.221153846153846, 0.241452991452992, 0.281039006399583],
        [0.0353794696541461, 0.0406964398467963, 0.0420871946292145, 0.0456251603839493],
    ),
    ("ALL", 2): (
        [0.26027397260274, 0.356164383561644, 0.36986301369863, 0.38603500761035],
        [0.0513557871501617, 0.0560468633956476, 0.0565036506029256, 0.0573090237211859],
    ),
    ("AML", 2): (
        [0.269230769230769, 0.433760683760684, 0.455147283272284, 0.455147283272284],
        [0.0434946462366543, 0.0487021393855155, 0.0491529562451786, 0.0491529562451786],
    ),
}

# The same, at 60, 120 and 240 months; heavy ties.
GAMMOPATHY = {
    1: (
        [0.034103712974349, 0.0637221680131129, 0.0998137159354692],
        [0.00488925790766794, 0.00679684842396064, 0.0097848467933896],
    ),
    2: (
        [0.320367010267878, 0.531817704080208, 0.724027976142545],
        [0.012567371547559, 0.0140596451620306, 0.0156063450677616],
    ),
}


# The same by sex.
BY_SEX = {
    ("F", 1): (
        [0.0397896215044053, 0.0738856643759262, 0.104940674186137],
        [0.00779833408808593, 0.0107697973764881, 0.0142629574344966],
    ),
    ("M", 1): (
        [0.0293462844583663, 0.0553102406481571, 0.0956507550309775],
        [0.00616458366286076, 0.00864431655219645, 0.0135258309491872],
    ),
    ("F", 2): (
        [0.263965145457701, 0.480490045774695, 0.695307803031983],
        [0.0175806957234412, 0.0208049145180222, 0.0236253343399979],
    ),
    ("M", 2): (
        [0.367626985608863, 0.575178488879491, 0.748127889265735],
        [0.0176074421125398, 0.0189385922542251, 0.020668866928044],
    ),
}

# Gray's test by the R package cmprsk 2.2-11: file, group, cause, statistic, p value. The first two
# also in Scrucca et al. 2010 (from memory, reproduced).
GRAY = [
    ("bmtcrr", "disease", 1, 2.86233251371104, 0.0906759249898529),
    ("bmtcrr", "disease", 2, 0.44812793623798, 0.503225310829054),
    ("mgus2", "sex", 1, 1.19450782507551, 0.274422156788004),
    ("mgus2", "sex", 2, 11.6512590121277, 0.000641590976407924),
]


def at(frame: pd.DataFrame, times: tuple[int, ...], column: str) -> list[float]:
    return [float(frame.loc[frame.index <= time, column].iloc[-1]) for time in times]


@pytest.mark.parametrize(("disease", "cause"), TRANSPLANT)
def test_relapse_and_death_after_transplant_are_as_computed_by_r(disease: str, cause: int) -> None:
    rows = pd.read_csv(DATA / "bmtcrr.csv", comment="#").query("disease == @disease")
    found = cumulative_incidence(rows["months"], rows["status"], cause)
    incidence, std_error = TRANSPLANT[disease, cause]
    assert at(found, (6, 12, 24, 60), "incidence") == pytest.approx(incidence, abs=1e-9)
    assert at(found, (6, 12, 24, 60), "std_error") == pytest.approx(std_error, abs=1e-8)


@pytest.mark.parametrize("cause", GAMMOPATHY)
def test_tied_causes_are_as_computed_by_r(cause: int) -> None:
    rows = pd.read_csv(DATA / "mgus2.csv", comment="#")
    found = cumulative_incidence(rows["months"], rows["status"], cause)
    incidence, std_error = GAMMOPATHY[cause]
    assert at(found, (60, 120, 240), "incidence") == pytest.approx(incidence, abs=1e-9)
    assert at(found, (60, 120, 240), "std_error") == pytest.approx(std_error, abs=1e-8)


@pytest.mark.parametrize(("sex", "cause"), BY_SEX)
def test_tied_causes_by_sex_are_as_computed_by_r(sex: str, cause: int) -> None:
    rows = pd.read_csv(DATA / "mgus2.csv", comment="#").query("sex == @sex")
    found = cumulative_incidence(rows["months"], rows["status"], cause)
    incidence, std_error = BY_SEX[sex, cause]
    assert at(found, (60, 120, 240), "incidence") == pytest.approx(incidence, abs=1e-9)
    assert at(found, (60, 120, 240), "std_error") == pytest.approx(std_error, abs=1e-8)


@pytest.mark.parametrize(("file", "group", "cause", "statistic", "p_value"), GRAY)
def test_incidences_differ_as_computed_by_cmprsk(
    file: str, group: str, cause: int, statistic: float, p_value: float
) -> None:
    rows = pd.read_csv(DATA / f"{file}.csv", comment="#")
    found = gray_test(rows["months"], rows["status"], cause, rows[group])
    assert found.statistic == pytest.approx(statistic, abs=1e-8)
    assert found.p_value == pytest.approx(p_value, abs=1e-8)
    assert found.df == 1


def test_the_net_and_the_competing_answer_differ_as_in_the_worked_table() -> None:
    # Own arithmetic: ten people, cause 1 failure, 2 competing, 0 censored.
    causes = [1, 2, 0, 1, 2, 2, 1, 0, 2, 1]
    times = list(range(1, 11))
    net = 1 - kaplan_meier(times, [cause == 1 for cause in causes])["survival"]
    failed, other = (cumulative_incidence(times, causes, cause)["incidence"] for cause in (1, 2))
    days = [1, 4, 7, 10]
    assert net[days].to_list() == pytest.approx([0.1, 0.228571, 0.421429, 1.0], abs=5e-7)
    assert failed[days].to_list() == pytest.approx([0.1, 0.214286, 0.328571, 0.5], abs=5e-7)
    assert other[days].to_list() == pytest.approx([0.0, 0.1, 0.328571, 0.5], abs=5e-7)
    assert (1 - failed - other)[days].to_list() == pytest.approx(
        [0.9, 0.685714, 0.342857, 0.0], abs=5e-7
    )


@pytest.mark.parametrize("seed", range(4))
def test_incidence_and_error_equal_statsmodels_on_random_tied_data(seed: int) -> None:
    from statsmodels.duration.survfunc import CumIncidenceRight  # noqa: PLC0415  # heavy

    rng = np.random.default_rng(seed)
    times, causes = rng.integers(1, 60, 400).astype(float), rng.choice([0, 1, 2], 400)
    # The last time has a censored one, where the library would divide by zero.
    times, causes = np.append(times, 60.0), np.append(causes, 0)
    theirs = CumIncidenceRight(times, causes)
    for place, cause in enumerate((1, 2)):
        ours = cumulative_incidence(times, causes, cause).loc[list(theirs.times)]
        assert ours["incidence"].to_numpy() == pytest.approx(theirs.cinc[place], abs=1e-10)
        assert ours["std_error"].to_numpy() == pytest.approx(theirs.cinc_se[place], abs=1e-10)


def test_the_interval_equals_lifelines_where_no_causes_are_tied() -> None:
    from lifelines import AalenJohansenFitter  # noqa: PLC0415  # heavy

    rng = np.random.default_rng(8)
    times, causes = rng.permutation(np.arange(1.0, 121.0)), rng.choice([0, 1, 2], 120)
    theirs = AalenJohansenFitter().fit(times, causes, event_of_interest=1)
    ours = cumulative_incidence(times, causes, 1)
    ours = ours.loc[ours["incidence"] > 0]
    limits = theirs.confidence_interval_.reindex(ours.index)
    assert ours["low"].to_numpy() == pytest.approx(limits.min(axis=1).to_numpy(), abs=1e-8)
    assert ours["high"].to_numpy() == pytest.approx(limits.max(axis=1).to_numpy(), abs=1e-8)
