"""The true rates of the invented service, so that estimates can be held against truth.

A source in numbers (events/cases and the paper) is what a rate was chosen by; rates differ from it
where that is said. All times are in days from the operation.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import exp, sqrt
from statistics import NormalDist

INVENTED = "invented"
# The days on which the reviews of the horizons are due: films are taken around them.
HORIZON_DAYS = {"6w": 42, "3m": 91, "6m": 183, "12m": 365, "24m": 731}
YEAR_DAYS = 365
END_DAY = 911
LOSS_MEAN_DAYS = 90.0
NONUNION_DAY = 183
THRESHOLD_MM = 3.0
READ_SD_MM = 0.7
SETTLING_MM = 0.2
REVISED_SHARE = 0.3
REMOVED_IF_SYMPTOMATIC = 0.5


@dataclass(frozen=True)
class ConstructTruth:
    """What is true of one construct type. Shares are of index procedures.

    `loss_24m` is the share that loses reduction by the end of follow-up, with times that are
    exponential with mean `LOSS_MEAN_DAYS`, cut at the end. `complication_12m` is the share with an
    unwanted event other than nonunion and a revised loss, at a time that is uniform over a year.
    `fracture` is the share used for a fracture rather than a joint injury, `union` the share of
    fractures that unite. Of those with a symptomatic implant one half have it removed;
    `planned_removal` is the share whose removal is done as planned. `sources` says where each rate
    comes from.
    """

    code: str
    share: float
    loss_24m: float
    complication_12m: float
    union: float
    fracture: float
    symptomatic: float
    planned_removal: float
    kinds: Mapping[str, float]
    sources: Mapping[str, str]


TRUTH: dict[str, ConstructTruth] = {
    row.code: row
    for row in (
        ConstructTruth(
            code="LP",
            share=0.28,
            loss_24m=0.15,
            complication_12m=0.30,
            union=0.94,
            fracture=1.0,
            symptomatic=0.30,
            planned_removal=0.0,
            kinds={
                "hardware_irritation": 0.45,
                "implant_failure": 0.2,
                "infection_superficial": 0.15,
                "nerve": 0.2,
            },
            sources={
                "complication_12m": "5/16, BMC Musculoskelet Disord 2019, s12891-019-2892-6",
                "union": "15/16, Clin Orthop Relat Res 2011;469:3344",
                "symptomatic": "removal 12/27, J Orthop Trauma 2021;35:660, lowered (invented)",
            },
        ),
        ConstructTruth(
            code="LP+A1",
            share=0.20,
            loss_24m=0.08,
            complication_12m=0.17,
            union=0.95,
            fracture=1.0,
            symptomatic=0.22,
            planned_removal=0.0,
            kinds={"hardware_irritation": 0.5, "infection_superficial": 0.2, "nerve": 0.3},
            sources={
                "complication_12m": "3/18, BMC Musculoskelet Disord 2019, s12891-019-2892-6",
                "union": "36/38, J Shoulder Elbow Surg 2010;19:1049 (with hook plates)",
            },
        ),
        ConstructTruth(
            code="LP+A2",
            share=0.14,
            loss_24m=0.06,
            complication_12m=0.16,
            union=0.95,
            fracture=1.0,
            symptomatic=0.22,
            planned_removal=0.0,
            kinds={"hardware_irritation": 0.5, "infection_deep": 0.1, "nerve": 0.4},
            sources={"union": "36/38, J Shoulder Elbow Surg 2010;19:1049 (with hook plates)"},
        ),
        ConstructTruth(
            code="HP",
            share=0.20,
            loss_24m=0.10,
            complication_12m=0.42,
            union=0.96,
            fracture=0.7,
            symptomatic=0.50,
            planned_removal=0.93,
            kinds={
                "subacromial_osteolysis": 0.5,
                "impingement": 0.3,
                "peri_implant_fracture": 0.1,
                "infection_deep": 0.1,
            },
            sources={
                "loss_24m": (
                    "4/30 in joint injuries, BMC Musculoskelet Disord 2021, s12891-021-04987-y, "
                    "lowered (invented)"
                ),
                "complication_12m": "42 %, J Orthop Surg Res 2022, s13018-022-03108-2",
                "union": "27/28, J Orthop Surg Res 2012;7:2",
                "symptomatic": "impingement 9/28, J Orthop Surg Res 2012;7:2, raised (invented)",
                "planned_removal": "33/33, Strategies Trauma Limb Reconstr 2015, lowered (invented)",
                "kinds": "osteolysis 7/28 and impingement 9/28, J Orthop Surg Res 2012;7:2",
            },
        ),
        ConstructTruth(
            code="CC-B",
            share=0.12,
            loss_24m=0.15,
            complication_12m=0.12,
            union=0.97,
            fracture=0.25,
            symptomatic=0.05,
            planned_removal=0.0,
            kinds={
                "peri_implant_fracture": 0.4,
                "infection_superficial": 0.3,
                "stiffness": 0.3,
            },
            sources={
                "loss_24m": "3/20 by the side ratio, JBJS Open Access 2017;2:e0007",
                "complication_12m": (
                    "infection 3.8 % and fracture 5.3 %, Open Access J Sports Med 2015;6:97, from "
                    "memory; the rest invented"
                ),
                "union": "14/14, J Shoulder Elbow Surg 2014;23:e47, lowered (invented)",
            },
        ),
        ConstructTruth(
            code="TG",
            share=0.06,
            loss_24m=0.18,
            complication_12m=0.30,
            union=0.95,
            fracture=0.25,
            symptomatic=0.05,
            planned_removal=0.0,
            kinds={"stiffness": 0.5, "infection_deep": 0.2, "ac_arthrosis": 0.3},
            sources={
                "loss_24m": "5/10 and 1/17 by technique, a series of 2012, from memory; invented",
                "complication_12m": "8/10 and 6/17 by technique, the same series; invented",
            },
        ),
    )
}


@dataclass(frozen=True)
class Truth:
    """What an honest estimate should come near to for one construct type, by horizon."""

    code: str
    loss: Mapping[str, float]
    complication: Mapping[str, float]
    union: float
    symptomatic: float


@dataclass(frozen=True)
class KnownRate:
    """One rate that was put into the invented service, with where it comes from."""

    code: str
    rate: str
    value: float
    source: str


RATES = {
    "loss_24m": "loss of reduction by the end of follow-up",
    "complication_12m": "complication by 12 months, nonunion and revised loss apart",
    "union": "union, of the fractures",
    "symptomatic": "symptomatic implant",
    "planned_removal": "removed as planned",
}


def loss_by(code: str, day: float) -> float:
    """Return the true share of a construct type that has lost its reduction by a day."""
    truth = TRUTH[code]
    whole = 1 - exp(-END_DAY / LOSS_MEAN_DAYS)
    return truth.loss_24m * min(1.0, (1 - exp(-max(0.0, day) / LOSS_MEAN_DAYS)) / whole)


def nonunion_by(code: str, day: float) -> float:
    """Return the true share with a nonunion by a day: the fractures that have not united by then.

    A fracture that is not united at six months is a nonunion (PMC8039767).
    """
    truth = TRUTH[code]
    return (1 - truth.union) * truth.fracture if day >= NONUNION_DAY else 0.0


def complication_by(code: str, day: float) -> float:
    """Return the true share with a first complication by a day.

    Three independent things count: an unwanted event at a time uniform over a year, a nonunion, and
    a loss of reduction that is revised, from the day of the loss.
    """
    event = TRUTH[code].complication_12m * min(1.0, max(0.0, day) / YEAR_DAYS)
    spared = (1 - event) * (1 - nonunion_by(code, day)) * (1 - REVISED_SHARE * loss_by(code, day))
    return 1 - spared


def misread_share() -> float:
    """Return how often two readings of a shoulder that held differ by more than the threshold.

    The first and a later reading err independently by `READ_SD_MM`, and every shoulder settles a
    little; this is the rate for one later film read by one reader.
    """
    return 1 - NormalDist(SETTLING_MM, READ_SD_MM * sqrt(2)).cdf(THRESHOLD_MM)


def truth_of(code: str) -> Truth:
    """Return what is true of a construct type.

    Raises KeyError when there is no such construct type in the simulation.
    """
    row = TRUTH[code]
    return Truth(
        code=code,
        loss={name: loss_by(code, day) for name, day in HORIZON_DAYS.items()},
        complication={name: complication_by(code, day) for name, day in HORIZON_DAYS.items()},
        union=row.union,
        symptomatic=row.symptomatic,
    )


def known_rates() -> list[KnownRate]:
    """Return every rate that was put in, with its source or the word that it is invented."""
    return [
        KnownRate(code, words, getattr(row, name), row.sources.get(name, INVENTED))
        for code, row in TRUTH.items()
        for name, words in RATES.items()
    ]


def table() -> list[tuple[str, ...]]:
    """Return the true shares that lose reduction, a line for each construct type."""
    head = ("construct", *HORIZON_DAYS, "any complication by 12m", "union", "symptomatic")
    lines = []
    for code in TRUTH:
        known = truth_of(code)
        shares = (*known.loss.values(), known.complication["12m"], known.union, known.symptomatic)
        lines.append((code, *(f"{share * 100:.1f}%" for share in shares)))
    return [head, *lines]
