"""What becomes of a simulated case: loss, complications, removals, attendance, films, endings."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from analytics.simulation.records import SimCase, SimFilm, SimVisit
from analytics.simulation.truth import END_DAY, LOSS_MEAN_DAYS, TRUTH

# Step: day due, last day of its window, share that comes, whether a film, motion and scores belong.
STEPS = (
    ("baseline", 2, 7, 0.97),
    ("2w", 14, 21, 0.95),
    ("6w", 42, 56, 0.92),
    ("3m", 91, 112, 0.89),
    ("6m", 183, 240, 0.82),
    ("12m", 365, 450, 0.72),
    ("24m", 731, 905, 0.56),
)
READ_SD_MM = 0.5
GRADES = {"infection_deep": "III", "peri_implant_fracture": "III", "loss_of_fixation": "III"}


def course_of(rng: np.random.Generator, case: SimCase, until: date) -> SimCase:
    """Return the case with everything that happened to it up to a day."""
    operated: date = case.operation["performed_on"]
    truth = TRUTH[case.construct_type]
    loss_day = _loss_day(rng, truth.loss_24m)
    harm_day = int(rng.integers(5, 365)) if rng.random() < truth.complication_12m else None
    status, ended = _ending(rng)
    removal = _removal_day(rng, case.construct_type, truth.symptomatic)
    revision = None
    if loss_day is not None and rng.random() < 0.3:
        revision = loss_day + int(rng.integers(14, 60))
    stops = min(day for day in (ended, revision, 10_000) if day is not None)
    days = _attended(rng, min(stops, (until - operated).days))
    visits = _visits(rng, case, days, loss_day, removal, until)
    watched = max([0, *((visit.on - operated).days for visit in visits)])
    return replace(
        case,
        visits=visits,
        complications=_complications(rng, case, harm_day, watched),
        removal_on=_on(operated, removal, min(stops, (until - operated).days)),
        removal_planned=case.construct_type == "HP",
        revision_on=_on(operated, revision, min(ended or 10_000, (until - operated).days)),
        status=status if _on(operated, ended, (until - operated).days) else "active",
        status_on=_on(operated, ended, (until - operated).days),
        symptomatic_on=_symptomatic(rng, visits, truth.symptomatic, removal),
        true_loss_day=loss_day,
        true_complication_day=harm_day,
        attempts=_attempts(rng, visits, operated, until),
    )


def _on(operated: date, day: int | None, limit: int) -> date | None:
    return operated + timedelta(days=day) if day is not None and day <= limit else None


def _loss_day(rng: np.random.Generator, share: float) -> int | None:
    if rng.random() >= share:
        return None
    whole = 1 - np.exp(-END_DAY / LOSS_MEAN_DAYS)
    return max(8, int(-LOSS_MEAN_DAYS * np.log(1 - rng.random() * whole)))


def _ending(rng: np.random.Generator) -> tuple[str, int | None]:
    draw, day = rng.random(), int(rng.integers(30, 1400))
    for status, share in (("died", 0.015), ("withdrawn", 0.02), ("moved", 0.03)):
        if draw < share:
            return status, day
        draw -= share
    return "active", None


def _removal_day(rng: np.random.Generator, code: str, symptomatic: float) -> int | None:
    if code == "HP":
        return int(np.clip(rng.normal(115, 22), 80, 300)) if rng.random() < 0.93 else None
    if rng.random() < symptomatic * 0.5:
        return int(np.clip(rng.normal(420, 90), 200, 900))
    return None


def _attended(rng: np.random.Generator, limit: int) -> list[tuple[str, int]]:
    lost_from = int(rng.integers(60, 1000)) if rng.random() < 0.18 else 10_000
    days = []
    for step, due, last, share in STEPS:
        spread = max(2.0, (last - due) / 3)
        day = max(0, int(rng.normal(due, spread)))
        if step != "baseline" and rng.random() < 0.06:
            day = last + int(rng.integers(1, 15))
        after = days[-1][1] + 1 if days else 0
        if rng.random() < share and after <= day < lost_from and day <= limit:
            days.append((step, day))
    return days


def _visits(
    rng: np.random.Generator,
    case: SimCase,
    days: list[tuple[str, int]],
    loss_day: int | None,
    removal: int | None,
    until: date,
) -> tuple[SimVisit, ...]:
    other = float(np.clip(rng.normal(8.6, 1.4), 5, 13))
    start = other + rng.normal(0.3, 0.8)
    step_up = float(rng.uniform(5, 10))
    calibration = str(rng.choice(["marker", "detector", "unknown"], p=[0.6, 0.32, 0.08]))
    unites = int(np.clip(rng.normal(85, 25), 40, 400)) if rng.random() < 0.95 else None
    operated: date = case.operation["performed_on"]
    visits = []
    for step, day in days:
        lost = loss_day is not None and day >= loss_day
        latent = max(2.0, start + (step_up if lost else 0.4 * (1 - np.exp(-day / 60))))
        film = None
        if step != "2w" and rng.random() < 0.95:
            film = SimFilm(
                taken_on=operated + timedelta(days=day),
                view="zanca" if rng.random() < 0.97 else "ap",
                posture="upright",
                calibration=calibration,
                readings=_readings(rng, latent, other),
                union=_union(case, unites, day),
                hardware=_hardware(rng, case, removal, day, lost),
            )
        visits.append(_visit(rng, case, step, operated + timedelta(days=day), day, film, lost))
    return tuple(visit for visit in visits if visit.on <= until)


def _readings(
    rng: np.random.Generator, latent: float, other: float
) -> tuple[tuple[int, float, float | None], ...]:
    readers = (0,) if rng.random() > 0.12 else (0, 1)
    both = rng.random() < 0.94
    return tuple(
        (
            reader,
            round(max(1.0, float(latent + rng.normal(0, READ_SD_MM))), 1),
            round(max(1.0, float(other + rng.normal(0, READ_SD_MM))), 1) if both else None,
        )
        for reader in readers
    )


def _union(case: SimCase, unites: int | None, day: int) -> str:
    if case.injury["kind"] != "lateral_clavicle":
        return "not_applicable"
    if unites is None or day < unites * 0.6:
        return "none"
    return "united" if day >= unites else "partial"


def _hardware(
    rng: np.random.Generator, case: SimCase, removal: int | None, day: int, lost: bool
) -> str:
    if removal is not None and day > removal:
        return "removed"
    return str(rng.choice(["loose", "intact"], p=[0.4, 0.6])) if lost else "intact"


def _visit(
    rng: np.random.Generator,
    case: SimCase,
    step: str,
    on: date,
    day: int,
    film: SimFilm | None,
    lost: bool,
) -> SimVisit:
    mended = 1 - np.exp(-day / 70)
    if step in ("baseline", "2w"):
        pain = {"pain_nrs": float(np.clip(round(rng.normal(5, 1.6)), 0, 10))}
        return SimVisit(step, on, film, None, None, None, pain if step == "2w" else {})
    low = 12 if lost else 0
    scores = {"pain_nrs": float(np.clip(round(rng.normal(4 * (1 - mended) + low / 6, 1)), 0, 10))}
    if rng.random() < 0.85:
        quickdash = np.clip(rng.normal(62 * (1 - mended) + 6 + low, 8), 0, 100)
        scores["quickdash"] = round(float(quickdash), 1)
    if step == "12m" and rng.random() < 0.7:
        scores["constant"] = round(float(np.clip(rng.normal(89 - low, 7), 20, 100)), 0)
    if step == "6m" and rng.random() < 0.6:
        scores["sane"] = float(np.clip(round(rng.normal(84 - low, 9)), 0, 100))

    def degrees(full: float, spread: float) -> int:
        return int(np.clip(round(rng.normal(full * (0.45 + 0.55 * mended) - low, spread)), 10, 180))

    return SimVisit(
        step, on, film, degrees(165, 12), degrees(162, 14), min(90, degrees(62, 8)), scores
    )


def _complications(
    rng: np.random.Generator, case: SimCase, harm_day: int | None, watched: int
) -> tuple[dict[str, Any], ...]:
    """An event comes to light at once, but only while the patient is still seen."""
    if harm_day is None or harm_day > watched:
        return ()
    kinds = TRUTH[case.construct_type].kinds
    kind = str(rng.choice([name for name, _ in kinds], p=[share for _, share in kinds]))
    on = case.operation["performed_on"] + timedelta(days=harm_day)
    return (
        {
            "kind": kind,
            "detected_on": on,
            "grade": GRADES.get(kind, str(rng.choice(["I", "II"]))),
            "relation": "construct" if kind != "nerve" else "procedure",
        },
    )


def _symptomatic(
    rng: np.random.Generator, visits: tuple[SimVisit, ...], share: float, removal: int | None
) -> date | None:
    seen = [visit.on for visit in visits if visit.step in ("6m", "12m")]
    return seen[0] if seen and rng.random() < share and removal is None else None


def _attempts(
    rng: np.random.Generator, visits: tuple[SimVisit, ...], operated: date, until: date
) -> tuple[date, ...]:
    last = max([operated, *(visit.on for visit in visits)])
    first = last + timedelta(days=int(rng.integers(100, 200)))
    days = [first + timedelta(days=9 * n) for n in range(int(rng.integers(0, 4)))]
    return tuple(day for day in days if day <= until)
