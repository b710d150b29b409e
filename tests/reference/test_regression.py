"""Regression against published values. Each row names its source and how its value is known."""

from math import log, sqrt
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analytics.estimators.partial_likelihood import Ties
from analytics.estimators.regression import cox, logistic_firth

DATA = Path(__file__).parent / "data"

pytestmark = pytest.mark.filterwarnings("ignore::Warning:lifelines", "ignore:.*keyword-only")


def read(name: str) -> pd.DataFrame:
    return pd.read_csv(DATA / f"{name}.csv", comment="#")


# Cox 1972, remission in leukaemia: Breslow 1.509 (0.410), Efron 1.572 (0.412); from memory, digits
# by R survival 3.5-3: coefficient, error, log-likelihoods without and with.
REMISSION: list[tuple[Ties, float, float, float, float]] = [
    ("efron", 1.57212514882907, 0.412396717709455, -93.1842699968477, -85.0084245773717),
    ("breslow", 1.50919141258588, 0.409564406366741, -93.9850504782452, -86.3796220711456),
]


@pytest.mark.parametrize(("ties", "coefficient", "std_error", "null", "fitted"), REMISSION)
def test_placebo_raises_the_hazard_as_published(
    ties: Ties, coefficient: float, std_error: float, null: float, fitted: float
) -> None:
    from lifelines.datasets import load_leukemia  # noqa: PLC0415  # heavy

    rows = load_leukemia()
    found = cox(rows["t"], rows["status"], rows["Rx"], ties)
    row = found.frame.iloc[0]
    assert (row["coef"], row["std_error"]) == pytest.approx((coefficient, std_error), abs=1e-8)
    assert found.null_log_likelihood == pytest.approx(null, abs=1e-8)
    assert found.log_likelihood == pytest.approx(fitted, abs=1e-8)


# The software validation vignette of R survival (Therneau): its algebra, read there. It prints
# -3.358979 for the last Efron value, which its own algebra gives as -3.358975.
SIX = {"times": [1, 1, 6, 6, 8, 9], "happened": [1, 0, 1, 1, 0, 1], "x": [1, 1, 1, 0, 0, 0]}
TEN = {
    "entry": [1, 2, 5, 2, 1, 7, 3, 4, 8, 8],
    "times": [2, 3, 6, 7, 8, 9, 9, 9, 14, 17],
    "happened": [1, 1, 1, 1, 1, 1, 1, 0, 0, 0],
    "x": [1, 0, 0, 1, 0, 1, 1, 1, 0, 0],
}


def test_six_rows_give_the_coefficient_of_the_algebra() -> None:
    breslow, efron = (
        cox(SIX["times"], SIX["happened"], SIX["x"], ties) for ties in ("breslow", "efron")
    )
    assert breslow.frame["coef"].to_list() == pytest.approx([log((3 + sqrt(33)) / 2)])
    assert breslow.null_log_likelihood == pytest.approx(-4.564348, abs=5e-7)
    assert breslow.log_likelihood == pytest.approx(-3.824750, abs=5e-7)
    assert efron.frame["coef"].to_list() == pytest.approx([1.6768574855882])
    assert efron.null_log_likelihood == pytest.approx(-4.276666, abs=5e-7)
    assert efron.log_likelihood == pytest.approx(-3.358975, abs=5e-7)


def test_ten_rows_with_late_entry_give_the_coefficient_of_the_algebra() -> None:
    # Breslow read, Efron computed by R survival 3.5-3.
    breslow, efron = (
        cox(TEN["times"], TEN["happened"], TEN["x"], ties, entry=TEN["entry"])
        for ties in ("breslow", "efron")
    )
    assert breslow.frame["coef"].to_list() == pytest.approx([-0.0845260806613092])
    assert breslow.frame["std_error"].to_list() == pytest.approx([0.793817277485535])
    assert breslow.null_log_likelihood == pytest.approx(-9.392662, abs=5e-7)
    assert breslow.log_likelihood == pytest.approx(-9.387015, abs=5e-7)
    assert efron.frame["coef"].to_list() == pytest.approx([-0.0211052096325447])
    assert efron.log_likelihood == pytest.approx(-9.16916646472476)


def lung() -> tuple[pd.DataFrame, pd.DataFrame]:
    from lifelines.datasets import load_lung  # noqa: PLC0415  # heavy

    rows = load_lung().dropna(subset=["ph.ecog"])
    return rows.rename(columns={"time": "days"}), rows[["age", "sex", "ph.ecog"]]


def veteran() -> tuple[pd.DataFrame, pd.DataFrame]:
    rows = read("veteran")
    kinds = pd.DataFrame({kind: rows["cell"] == kind for kind in ("smallcell", "adeno", "large")})
    plain = rows[["treatment", "karnofsky", "months", "age", "prior"]]
    return rows, pd.concat([plain, kinds.astype(int)], axis=1)


def ovarian() -> tuple[pd.DataFrame, pd.DataFrame]:
    rows = read("ovarian")
    return rows, rows[["age"]]


def cholangitis() -> tuple[pd.DataFrame, pd.DataFrame]:
    rows = read("pbc").dropna(subset=["protime"])
    logs = np.log(rows[["bilirubin", "protime", "albumin"]])
    return rows.assign(status=rows["status"] == 2), pd.concat(
        [rows[["age", "edema"]], logs], axis=1
    )


# R survival 3.5-3, Efron. Of memory too: 0.162 of the ovarian trial, the Mayo model of the
# cholangitis data (0.0396, 0.8963, 0.8636, 2.3868, -2.5069).
MODELS = {
    lung: (
        [0.0110667645600735, -0.552612395703631, 0.463728475370428],
        [0.00926741101370053, 0.167739053787264, 0.113577266161997],
        (-744.48045576144, -729.230121374862),
    ),
    veteran: (
        [
            *(0.294602821507719, -0.0328153261943266, 8.13205130462307e-05, -0.00870647494578825),
            *(0.00715936018951057, 0.861560462754754, 1.19606637417846, 0.401291654330668),
        ],
        [
            *(0.207549603603519, 0.00550775688646227, 0.00913606224777198, 0.00930029912031484),
            *(0.0232305384067306, 0.275284474022692, 0.300916994493076, 0.282688638280855),
        ],
        (-505.449054918058, -474.397111714723),
    ),
    ovarian: ([0.161619857406316], [0.0497401245026422], (-34.9849403711626, -27.8381472910825)),
    cholangitis: (
        [
            *(0.0396091329811726, 0.896311444265056, 0.863550647365664),
            *(2.38683926602062, -2.50692322581861),
        ],
        [
            *(0.00767196852990903, 0.271409929633909, 0.0829409674643168),
            *(0.768509263267714, 0.652915639143716),
        ],
        (-866.957296675132, -751.469744421068),
    ),
}


@pytest.mark.parametrize("model", MODELS, ids=lambda one: one.__name__)
def test_models_of_survival_are_as_computed_by_r(model: object) -> None:
    coefficients, std_errors, likelihoods = MODELS[model]  # type: ignore[index]  # it is a key
    rows, covariates = model()  # type: ignore[operator]
    found = cox(rows["days"], rows["status"], covariates)
    assert found.frame["coef"].to_list() == pytest.approx(coefficients, abs=1e-8)
    assert found.frame["std_error"].to_list() == pytest.approx(std_errors, abs=1e-8)
    shown = (found.null_log_likelihood, found.log_likelihood)
    assert shown == pytest.approx(likelihoods, abs=1e-6)
    assert found.converged


# Heinze and Schemper, Stat Med 2002;21:2409-2419 (sex2 from memory: 0.120, -1.106, -0.069, 2.269,
# -2.111, -0.788, 3.096); digits, profile limits and p values by the R package logistf 1.26.1.
URINARY = pd.DataFrame.from_dict(
    {
        "intercept": (0.1202540459, 0.4763429318, -0.8185591064, 1.073151216, 0.8020268023),
        "age": (-1.105981308, 0.4149020763, -1.973788383, -0.3074251416, 0.006143471845),
        "oc": (-0.06881673039, 0.4344025609, -0.9414363302, 0.7892020213, 0.8751910586),
        "vic": (2.268874644, 0.5384872491, 1.273021571, 3.435432731, 1.678876959e-06),
        "vicl": (-2.111408173, 0.5320394811, -3.260861118, -1.117734947, 1.237804763e-05),
        "vis": (-0.788316945, 0.4089619945, -1.60808789, 0.01518467907, 0.05449700806),
        "dia": (3.096011661, 1.505219672, 0.7745681692, 8.030293522, 0.004951873386),
    },
    orient="index",
    columns=["coef", "std_error", "low", "high", "p_value"],
)
ENDOMETRIAL = pd.DataFrame.from_dict(
    {
        "intercept": (3.774559509, 1.43900672, 1.082537108, 7.209280498, 0.004193627886),
        "NV": (2.929273297, 1.464974149, 0.6097244363, 7.854631714, 0.009123667547),
        "PI": (-0.03475175212, 0.0378923667, -0.1244587209, 0.04045547318, 0.3874822036),
        "EH": (-2.604163872, 0.7536283804, -4.365183247, -1.232721057, 2.506867215e-05),
    },
    orient="index",
    columns=["coef", "std_error", "low", "high", "p_value"],
)


def test_separated_infections_are_fitted_as_published() -> None:
    counts = read("sex2")
    women = counts.loc[counts.index.repeat(counts["women"])]
    found = logistic_firth(women[list(URINARY.index[1:])], women["case"])
    assert list(found.frame.index) == list(URINARY.index)
    # logistf stops at 1e-5.
    assert found.frame.to_numpy() == pytest.approx(URINARY.to_numpy(), rel=1e-4, abs=1e-6)
    assert found.log_likelihood == pytest.approx(-132.539379532844, abs=1e-8)
    assert found.null_log_likelihood == pytest.approx(-157.084700928862, abs=1e-7)
    assert found.rows == 239


def test_separated_cancers_are_fitted_as_published() -> None:
    rows = read("endometrial")
    found = logistic_firth(rows[["NV", "PI", "EH"]], rows["HG"])
    assert found.frame.to_numpy() == pytest.approx(
        ENDOMETRIAL.loc[found.frame.index].to_numpy(), rel=1e-4
    )
    assert found.log_likelihood == pytest.approx(-24.0372678006979, abs=1e-8)


def test_two_separated_cells_give_haldanes_half() -> None:
    # Haldane and Anscombe: half an event in each cell. Limits by logistf 1.26.1.
    found = logistic_firth([0] * 6 + [1] * 4, [0] * 8 + [1] * 2)
    assert found.frame.loc["x1", "coef"] == pytest.approx(log(2.5 * 6.5 / (2.5 * 0.5)))
    assert found.frame.loc["x1", ["low", "high"]].to_list() == pytest.approx(
        [-0.328407317334397, 7.63515346631692], rel=1e-5
    )
    assert found.frame.loc["intercept", ["low", "high"]].to_list() == pytest.approx(
        [-7.43566450615468, -0.430277414924091], rel=1e-5
    )
    assert found.frame["std_error"].to_list() == pytest.approx([1.46759876701269, 1.71867569393913])
    assert found.frame["p_value"].to_list() == pytest.approx(
        [0.0135059576474675, 0.0852366067728312], rel=1e-5
    )
