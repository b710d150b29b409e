"""Methods left to SciPy and statsmodels, held to the published values for which they are trusted."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.stats import fisher_exact
from scipy.stats.contingency import odds_ratio
from statsmodels.api import Logit, add_constant
from statsmodels.datasets import spector
from statsmodels.stats.contingency_tables import StratifiedTable
from statsmodels.stats.inter_rater import fleiss_kappa
from statsmodels.stats.multitest import multipletests

DATA = Path(__file__).parent / "data"

# Admissions to six departments: admitted and refused men, admitted and refused women. Bickel et
# al., Science 1975;187:398.
BERKELEY = [
    *([[512, 313], [89, 19]], [[353, 207], [17, 8]], [[120, 205], [202, 391]]),
    *([[138, 279], [131, 244]], [[53, 138], [94, 299]], [[22, 351], [24, 317]]),
]
# Benjamini and Hochberg, J R Stat Soc B 1995;57:289-300, thrombolysis.
THROMBOLYSIS = [
    *(0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344),
    *(0.0459, 0.324, 0.4262, 0.5719, 0.6528, 0.759, 1),
]


def test_fishers_tea_is_as_published() -> None:
    # Agresti, Categorical Data Analysis, 1990, p. 61: 0.2429 (read in R's help); others by R 4.2.2.
    table = [[3, 1], [1, 3]]
    assert fisher_exact(table, "greater").pvalue == pytest.approx(0.242857142857143)
    assert fisher_exact(table).pvalue == pytest.approx(0.485714285714286)
    assert odds_ratio(table).statistic == pytest.approx(6.40830886700579, rel=1e-4)


def test_berkeleys_departments_are_pooled_as_published() -> None:
    # 0.9047 (0.7719 to 1.0603), chi squared 1.4269 with and 1.5246 without correction: from memory,
    # reproduced by R 4.2.2.
    pooled = StratifiedTable([np.array(table) for table in BERKELEY])
    assert pooled.oddsratio_pooled == pytest.approx(0.904696828258623)
    low, high = pooled.oddsratio_pooled_confint()
    assert (low, high) == pytest.approx((0.77190736175935, 1.06032976443666), rel=1e-6)
    for correction, statistic in ((True, 1.42694622858669), (False, 1.52460666044344)):
        found = pooled.test_null_odds(correction=correction).statistic
        assert found == pytest.approx(statistic, rel=1e-6)


def test_several_p_values_are_adjusted_as_published() -> None:
    # Holm, Scand J Stat 1979;6:65-70; four values by R 4.2.2.
    found = multipletests([0.01, 0.04, 0.03, 0.005], method="holm")[1]
    assert found.tolist() == pytest.approx([0.03, 0.06, 0.06, 0.02])
    holm, benjamini = (multipletests(THROMBOLYSIS, method=one) for one in ("holm", "fdr_bh"))
    assert (holm[0].sum(), benjamini[0].sum()) == (3, 4)
    assert holm[1][:4].tolist() == pytest.approx([0.0015, 0.0056, 0.0247, 0.114])
    assert benjamini[1][:4].tolist() == pytest.approx([0.0015, 0.003, 0.0095, 0.035625])


def test_six_raters_agree_on_thirty_patients_as_published() -> None:
    # Fleiss, Psychol Bull 1971;76:378-382: 0.430 (from memory, reproduced by the R package irr).
    table = pd.read_csv(DATA / "diagnoses.csv", comment="#")
    assert fleiss_kappa(table.to_numpy()) == pytest.approx(0.430244520060141)


def test_grades_in_economics_are_fitted_as_published() -> None:
    # Spector and Mazzeo 1980, in Greene, Econometric Analysis: from memory, digits by R 4.2.2,
    # whose errors are those of the last step but one.
    data = spector.load_pandas()
    found = Logit(data.endog, add_constant(data.exog)).fit(disp=False, tol=1e-12)
    assert found.params.to_list() == pytest.approx(
        [-13.0213468563076, 2.82611259455938, 0.0951576612956502, 2.3786876548125], rel=1e-6
    )
    assert found.bse.to_list() == pytest.approx(
        [4.93127252675278, 1.26293258926046, 0.141553508341034, 1.06455686953409], rel=2e-5
    )
    assert found.llf == pytest.approx(-12.8896342221314)
