"""The true rates of the invented service, so that estimates can be held against truth."""

from dataclasses import dataclass
from math import exp

HORIZON_DAYS = {"6w": 56, "3m": 112, "6m": 243, "12m": 455, "24m": 911}


@dataclass(frozen=True)
class ConstructTruth:
    """What is true of one construct type. Shares are of index procedures.

    `loss_24m` is the share that loses reduction by the end of follow-up, with times that are
    exponential with mean `loss_days`, cut at the end. Sources are named where a figure has one.
    """

    code: str
    share: float
    loss_24m: float
    complication_12m: float
    symptomatic: float
    kinds: tuple[tuple[str, float], ...]
    source: str


END_DAY = 911
LOSS_MEAN_DAYS = 90.0

TRUTH: dict[str, ConstructTruth] = {
    row.code: row
    for row in (
        ConstructTruth(
            "LP",
            0.28,
            0.15,
            0.30,
            0.30,
            (
                ("hardware_irritation", 0.45),
                ("implant_failure", 0.2),
                ("infection_superficial", 0.15),
                ("nerve", 0.2),
            ),
            "complications 5/16, BMC Musculoskelet Disord 2019, s12891-019-2892-6; loss invented",
        ),
        ConstructTruth(
            "LP+A1",
            0.20,
            0.08,
            0.17,
            0.22,
            (("hardware_irritation", 0.5), ("infection_superficial", 0.2), ("nerve", 0.3)),
            "complications 3/18, same paper; loss invented",
        ),
        ConstructTruth(
            "LP+A2",
            0.14,
            0.06,
            0.16,
            0.22,
            (("hardware_irritation", 0.5), ("infection_deep", 0.1), ("nerve", 0.4)),
            "invented",
        ),
        ConstructTruth(
            "HP",
            0.20,
            0.10,
            0.42,
            0.50,
            (
                ("subacromial_osteolysis", 0.5),
                ("impingement", 0.3),
                ("peri_implant_fracture", 0.1),
                ("infection_deep", 0.1),
            ),
            "complications 42 %, J Orthop Surg Res 2022, s13018-022-03108-2; loss 4/30, BMC "
            "Musculoskelet Disord 2021, s12891-021-04987-y, lowered (invented)",
        ),
        ConstructTruth(
            "CC-B",
            0.12,
            0.15,
            0.14,
            0.05,
            (("loss_of_fixation", 0.5), ("infection_superficial", 0.3), ("stiffness", 0.2)),
            "loss 3/20, JBJS Open Access 2017;2:e0007; complications invented",
        ),
        ConstructTruth(
            "TG",
            0.06,
            0.18,
            0.30,
            0.05,
            (("stiffness", 0.5), ("infection_deep", 0.2), ("ac_arthrosis", 0.3)),
            "from memory and invented",
        ),
    )
}


def loss_by(code: str, day: float) -> float:
    """Return the true share of a construct type that has lost its reduction by a day."""
    truth = TRUTH[code]
    whole = 1 - exp(-END_DAY / LOSS_MEAN_DAYS)
    return truth.loss_24m * min(1.0, (1 - exp(-max(0.0, day) / LOSS_MEAN_DAYS)) / whole)


def complication_by(code: str, day: float) -> float:
    """Return the true share with a first complication by a day; times are uniform over a year."""
    return TRUTH[code].complication_12m * min(1.0, max(0.0, day) / 365)


def table() -> list[tuple[str, ...]]:
    """Return the true shares that lose reduction, a line for each construct type."""
    head = ("construct", *HORIZON_DAYS, "any complication by 12m")
    lines = [
        (
            code,
            *(f"{loss_by(code, day) * 100:.1f}%" for day in HORIZON_DAYS.values()),
            f"{complication_by(code, 365) * 100:.1f}%",
        )
        for code in TRUTH
    ]
    return [head, *lines]
