"""Control charts and funnels against published tables and other programs' results."""

import numpy as np
import pytest
from scipy.stats import norm

from analytics.estimators import monitoring
from analytics.estimators.inputs import Floats
from analytics.estimators.run_lengths import Steps, average_run_length

# The formula is Spiegelhalter's, Stat Med 2005;24:1185, appendix A.1.1; values by R 4.2.2 for a
# target of 0.10: 2.5, 97.5, 0.1 and 99.9 per cent. What falls below 0 there is 0 here.
FUNNEL = {
    10: (-0.092830070023019, 0.278735659796248, -0.0997132028009208, 0.442669526277212),
    25: (-0.0260704443090146, 0.214044625821262, -0.0394428177723606, 0.307970682988278),
    50: (0.0138629269573437, 0.179722727623364, -0.0161193495650347, 0.240128418752389),
    100: (0.0403805955243935, 0.157718611639127, 0.0141788650084348, 0.198356718502886),
    200: (0.0576907220237319, 0.140971714369887, 0.0378515074020755, 0.168567263852695),
    500: (0.0734475283117622, 0.126014898891818, 0.0599886865476911, 0.142689312964431),
    1000: (0.0812786567446603, 0.11848292653051, 0.071340846312636, 0.129917843946863),
}
# Twelve invented units; R 4.2.2 by the formulae of Spiegelhalter, Qual Saf Health Care 2005;14:347.
UNITS = (
    [9, 12, 18, 3, 20, 5, 41, 7, 11, 16, 4, 33],
    [112, 85, 240, 60, 153, 97, 310, 45, 188, 131, 76, 205],
)
# Expected counts with the 95 and 99.8 per cent limits of observed over expected, by R 4.2.2.
RATIOS = {
    8.2: (0.365853658536585, 1.70731707317073, 0.121951219512195, 2.19512195121951),
    11.5: (0.434782608695652, 1.65217391304348, 0.260869565217391, 2),
    20.3: (0.591133004926108, 1.47783251231527, 0.394088669950739, 1.77339901477832),
    4.1: (0.24390243902439, 1.95121951219512, 0, 2.92682926829268),
    15.2: (0.526315789473684, 1.51315789473684, 0.328947368421053, 1.90789473684211),
    6.6: (0.303030303030303, 1.81818181818182, 0, 2.42424242424242),
}
# NIST/SEMATECH e-Handbook 6.3.3.2: nonconforming chips of 50 on each of 30 wafers.
WAFERS = [
    12,
    15,
    8,
    10,
    4,
    7,
    16,
    9,
    14,
    10,
    5,
    6,
    17,
    12,
    22,
    8,
    10,
    5,
    13,
    11,
    20,
    18,
    24,
    15,
    9,
    12,
    7,
    13,
    9,
    6,
]
# NIST/SEMATECH e-Handbook 6.3.2.3: values with target 325, k 0.3175 and limit 4.1959.
NIST_CUSUM = [
    324.925,
    324.675,
    324.725,
    324.35,
    325.35,
    325.225,
    324.125,
    324.525,
    325.225,
    324.6,
    324.625,
    325.15,
    328.325,
    327.25,
    327.825,
    328.5,
    326.675,
    327.775,
    326.875,
    328.35,
]
# Twenty invented operations; scores and weights by the R package vlad 0.2.2.
SCORES = [5, 12, 30, 0, 8, 3, 22, 15, 6, 9, 40, 2, 18, 7, 0, 25, 11, 4, 1, 10]
DIED = [0, 0, 1, 0, 0, 0, 1, 0, 0, 1, 1, 0, 1, 0, 0, 1, 0, 0, 0, 0]


def risk(score: Floats) -> Floats:
    """Return the risk of death of Steiner et al., Biostatistics 2000;1:441, by Parsonnet score."""
    return 1 / (1 + np.exp(3.68 - 0.077 * score))


@pytest.mark.parametrize("n", FUNNEL)
def test_funnel_limits_are_the_interpolated_exact_ones(n: int) -> None:
    found = monitoring.funnel_limits(n, 0.1).iloc[0]
    assert found.to_list() == pytest.approx(np.maximum(FUNNEL[n], 0), abs=1e-12)


def test_overdispersion_of_twelve_units_is_as_computed_by_r() -> None:
    found = monitoring.overdispersion(*UNITS)
    assert found.target == pytest.approx(0.105170387779083, abs=1e-12)
    assert found.z[[0, -1]] == pytest.approx([-0.856003740138274, 2.60456295406613], abs=1e-10)
    assert (found.phi, found.phi_winsorised) == pytest.approx((2.29869451521579, 1.78492684485105))
    assert (found.tau2, found.tau2_winsorised) == pytest.approx(
        (0.00102778063692723, 0.000645704064422241)
    )


@pytest.mark.parametrize("expected", RATIOS)
def test_limits_of_observed_over_expected_are_poisson_quantiles(expected: float) -> None:
    found = monitoring.ratio_limits([expected]).iloc[0]
    assert found.to_list() == pytest.approx(RATIOS[expected], abs=1e-12)


def test_the_wafers_of_the_nist_handbook() -> None:
    # Mean .2313, limits .0524 and .4102, wafers 15 and 23 outside.
    found = monitoring.overdispersion(WAFERS, [50] * 30)
    assert found.target == pytest.approx(0.2313, abs=5e-5)
    level = 2 * float(norm.cdf(3)) - 1
    limits = monitoring.overdispersed_limits(50, found.target, 0.0, levels=(level,)).iloc[0]
    assert limits.to_list() == pytest.approx([0.0524275480719282, 0.410239118594738], abs=1e-10)
    assert (np.flatnonzero(np.abs(found.z) > 3) + 1).tolist() == [15, 23]


def test_the_sums_of_the_nist_handbook() -> None:
    path, _ = monitoring.accumulate(np.array(NIST_CUSUM) - 325 - 0.3175, np.inf)
    # From memory, to two decimals (14.445 rounds either way).
    printed = [3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04]
    assert path[12:] == pytest.approx(printed, abs=0.0051)
    _, signals = monitoring.accumulate(np.array(NIST_CUSUM) - 325 - 0.3175, 4.1959)
    assert signals[0] + 1 == 14


@pytest.mark.parametrize(
    ("ratio", "to_three"),
    [
        (2.0, [-0.024, 0.669, -0.433, 0.260]),
        (0.5, [0.012, -0.681, 0.316, -0.377]),
    ],
)
def test_the_weights_of_steiner(ratio: float, to_three: list[float]) -> None:
    # Steiner et al., Biostatistics 2000;1:441, p. 446; Steiner 2014, p. 234.
    for (score, outcome), printed in zip([(0, 0), (0, 1), (50, 0), (50, 1)], to_three, strict=True):
        at = float(risk(np.array(score)))
        # Ahead of it are events, or none, that lift the sum, so that a fall is not cut at 0.
        lifted = monitoring.cusum([*[int(ratio > 1)] * 40, outcome], [*[0.05] * 40, at], ratio, 1e9)
        weight = lifted.path[40] - lifted.path[39]
        assert weight == pytest.approx(printed, abs=5e-4)


@pytest.mark.parametrize(("ratio", "end"), [(2.0, 2.82112131129756), (0.5, 0.0844254525247802)])
def test_the_path_of_twenty_operations_is_as_computed_by_vlad(ratio: float, end: float) -> None:
    path = monitoring.cusum(DIED, risk(np.array(SCORES)), ratio, 100).path
    assert path[-1] == pytest.approx(end, abs=1e-10)
    if ratio > 1:
        assert path[12] == pytest.approx(2.49367054299506, abs=1e-10)


def normal_steps(shift: float) -> Steps:
    sizes = np.linspace(-6, 6, 4801) + shift
    shares = norm.pdf(sizes - shift)
    return Steps(sizes - 0.5, shares / shares.sum())


@pytest.mark.parametrize(
    ("height", "one_sided"),
    [
        # R package spc 0.6.7, k = 1/2, in control and shifted by 1 sigma. Two-sided the tables have
        # 168 and 8.38, 465 and 10.4 (Montgomery; Lucas 1976; from memory).
        (3, (117.59570422794, 6.40390889342169)),
        (4, (335.367577627242, 8.38320212974994)),
        (5, (930.887012064239, 10.3759753002077)),
    ],
)
def test_run_lengths_of_normal_data(height: int, one_sided: tuple[float, float]) -> None:
    for shift, expected in zip((0.0, 1.0), one_sided, strict=True):
        found = average_run_length(normal_steps(shift), height / 2000, 2000)
        assert found == pytest.approx(expected, rel=2e-3)


def test_run_lengths_of_both_sides_of_normal_data() -> None:
    # Two-sided at 0, 0.5, 1 and 2 sigma: h = 4: 168, 26.6, 8.38, 3.34; h = 5: 465, 38.0, 10.4, 4.01.
    for height, printed in ((4, [168, 26.6, 8.38, 3.34]), (5, [465, 38.0, 10.4, 4.01])):
        for shift, expected in zip((0.0, 0.5, 1.0, 2.0), printed, strict=True):
            sides = [
                average_run_length(normal_steps(side), height / 1000, 1000)
                for side in (shift, -shift)
                # Against so strong a shift the other side's run is beyond all counting.
                if side > -1
            ]
            assert 1 / sum(1 / side for side in sides) == pytest.approx(expected, rel=4e-3)


# Exact linear solve by R 4.2.2 of the construction of Reynolds and Stoumbos, J Qual Technol
# 1999;31:87: down 1 without an event, up m - 1 with one.
@pytest.mark.parametrize(
    ("p0", "p1", "m", "height", "in_control", "shifted"),
    [
        (0.05, 0.1, 14, 20, 81.9856418004384, 28.0616166692071),
        (0.05, 0.1, 14, 40, 433.020283745682, 71.0756949133827),
        (0.05, 0.1, 14, 60, 1518.35080104835, 118.194083610436),
        (0.02, 0.04, 34, 20, 50, 25),
        (0.02, 0.04, 34, 40, 168.186682661783, 62.2540351962347),
        (0.02, 0.04, 34, 60, 297.639333869253, 90.0022999440315),
        (0.1, 0.2, 7, 20, 246.734398336038, 36.6030553624614),
        (0.1, 0.2, 7, 40, 3037.17808032826, 85.3432558558479),
        (0.1, 0.2, 7, 60, 29150.1853851775, 135.233666013321),
    ],
)
def test_run_lengths_on_a_lattice_are_exact(
    p0: float, p1: float, m: int, height: int, in_control: float, shifted: float
) -> None:
    for share, expected in ((p0, in_control), (p1, shifted)):
        steps = Steps(np.array([-1.0, m - 1.0]), np.array([1 - share, share]))
        assert average_run_length(steps, 1.0, height) == pytest.approx(expected, rel=1e-8)


# R package vlad 0.2.2, Markov chain by the method of Steiner et al. 2000; odds ratio 2.
@pytest.mark.parametrize(
    ("share", "limit", "in_control", "shifted"),
    [
        (0.05, 2, 441.440789033962, 79.3373884309559),
        (0.05, 3, 1521.96226373624, 133.511277786796),
        (0.05, 4, 4569.44112841049, 190.002437630223),
        (0.1, 2, 240.041552919925, 44.4487809983829),
        (0.1, 3, 839.575044249248, 75.2186553435119),
        (0.1, 4, 2512.71143023643, 106.842582741095),
    ],
)
def test_run_lengths_of_equal_risks_are_as_computed_by_vlad(
    share: float, limit: float, in_control: float, shifted: float
) -> None:
    found = (monitoring.run_length(limit, share, 2), monitoring.run_length(limit, share, 2, 2))
    assert found == pytest.approx((in_control, shifted), rel=4e-3)
    assert monitoring.limit_for_arl(share, 2, in_control) == pytest.approx(limit, rel=0.01)
