"""What goes wrong or comes out: loss, unwanted events, removals, revisions, endings."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import exp, log
from typing import Any

from analytics.simulation.draws import Draws
from analytics.simulation.records import SimDecision
from analytics.simulation.truth import (
    END_DAY,
    LOSS_MEAN_DAYS,
    NONUNION_DAY,
    REMOVED_IF_SYMPTOMATIC,
    REVISED_SHARE,
    TRUTH,
    YEAR_DAYS,
)

ENDINGS = {"died": 0.015, "withdrawn": 0.02, "moved": 0.03}
SECOND_EVENT_SHARE, ONSET_KNOWN_SHARE, RESOLVES_SHARE = 0.12, 0.6, 0.6
REOPERATED = ("infection_deep", "peri_implant_fracture", "implant_failure")
GRADE_ACTION = {
    "I": "Watched",
    "II": "Treated in clinic",
    "III": "Operated on again",
    "unknown": "",
}
MILD = {"I": 0.35, "II": 0.55, "unknown": 0.1}
# Nobody is operated on again without a film.
FILM_BEFORE_DAYS = 3
LOSS_KIND = {"loss_of_fixation": 0.7, "implant_failure": 0.3}
HOOK_OPENS_DAYS, HOOK_OUT_DAYS = 84, (115.0, 22.0)
# A hook plate over a fracture stays until a film has shown union (Feng, 92 hook plates, 2018 to 2024);
# how long it then takes to a place in theatre is invented.
THEATRE_AFTER_UNION_DAYS = 14
LOOSE_ENDS = {"raised": 0.35, "discussed": 0.2, "planned": 0.25, "deferred": 0.12, "declined": 0.08}
WHY_NOT_YET = "Wants to wait until after the season"
WHY_NOT = "Does not want another operation"


@dataclass(frozen=True)
class Fate:
    """What is going to happen to a case if it is watched for long enough; days, None for never."""

    loss_day: int | None
    revision_day: int | None
    event_day: int | None
    event_kind: str
    nonunion: bool
    symptomatic: bool
    removal_day: int | None
    ending: str
    ending_day: int | None

    def first_complication_day(self) -> int | None:
        """Return the day of the first unwanted event, however it comes to light."""
        loss = self.loss_day if self.revision_day is not None else None
        days = (self.event_day, loss, NONUNION_DAY if self.nonunion else None)
        return min((day for day in days if day is not None), default=None)


def fate(
    rng: Draws, code: str, *, nonunion: bool, stays: bool, union_day: int | None = None
) -> Fate:
    """Draw what happens to a case; somebody who `stays` neither dies nor leaves.

    A planned removal waits for the `union_day` of a fracture that unites; one that never does is
    operated on when the plate has to come out.
    """
    truth = TRUTH[code]
    loss = loss_day(rng, truth.loss_24m)
    revised = rng.chance(REVISED_SHARE)
    delay = rng.integers(14, 60)
    happens = rng.chance(truth.complication_12m)
    event = rng.integers(1, YEAR_DAYS + 1)
    symptomatic = rng.chance(truth.symptomatic)
    ending, ending_day = _ending(rng)
    return Fate(
        loss_day=loss,
        revision_day=loss + delay if loss is not None and revised else None,
        event_day=event if happens else None,
        event_kind=rng.pick(truth.kinds),
        nonunion=nonunion,
        symptomatic=symptomatic,
        removal_day=_removal_day(rng, code, symptomatic, union_day),
        ending="active" if stays else ending,
        ending_day=None if stays else ending_day,
    )


def loss_day(rng: Draws, share: float) -> int | None:
    """Return the day on which the reduction is lost, from the distribution that `truth` states."""
    if not rng.chance(share):
        return None
    whole = 1 - exp(-END_DAY / LOSS_MEAN_DAYS)
    return 1 + int(-LOSS_MEAN_DAYS * log(1 - rng.random() * whole))


def _ending(rng: Draws) -> tuple[str, int | None]:
    day = rng.integers(30, 1400)
    ending = rng.pick({**ENDINGS, "active": 1 - sum(ENDINGS.values())})
    return ending, None if ending == "active" else day


def _removal_day(rng: Draws, code: str, symptomatic: bool, union_day: int | None) -> int | None:
    planned = TRUTH[code].planned_removal
    if planned:
        day = int(rng.bounded(*HOOK_OUT_DAYS, HOOK_OPENS_DAYS, 300))
        if union_day is not None:
            day = max(day, union_day + THEATRE_AFTER_UNION_DAYS)
        return day if rng.chance(planned) else None
    if symptomatic and rng.chance(REMOVED_IF_SYMPTOMATIC):
        return int(rng.bounded(420, 90, 200, 900))
    return None


def complications(
    rng: Draws, what: Fate, operated: date, *, seen: Sequence[int], revised: bool, last: date
) -> tuple[dict[str, Any], ...]:
    """Return the unwanted events that came to light, oldest first.

    An event is found only while the patient is still `seen` (the days of the visits, in order); a
    nonunion at a visit after six months, a loss that is revised shortly before its operation.
    Nothing is known to have ended after `last`.
    """
    found = []
    watched = seen[-1] if seen else 0
    if what.event_day is not None and what.event_day <= watched:
        found.append(_event(rng, what.event_kind, operated, what.event_day, watched, last))
        if rng.chance(SECOND_EVENT_SHARE) and what.event_day + 30 <= watched:
            found.append(_event(rng, "stiffness", operated, what.event_day + 30, watched, last))
    late = next((day for day in seen if day >= NONUNION_DAY), None)
    if what.nonunion and late is not None:
        found.append(_late("nonunion", operated, NONUNION_DAY, late, "II"))
    if revised and what.loss_day is not None and what.revision_day is not None:
        day = what.revision_day - FILM_BEFORE_DAYS
        found.append(_late(rng.pick(LOSS_KIND), operated, what.loss_day, day, "III"))
    return tuple(sorted(found, key=lambda event: event["detected_on"]))


def _event(
    rng: Draws, kind: str, operated: date, day: int, watched: int, last: date
) -> dict[str, Any]:
    onset = operated + timedelta(days=day)
    known = rng.chance(ONSET_KNOWN_SHARE)
    delay = min(rng.integers(0, 7), watched - day) if known else 0
    detected = onset + timedelta(days=delay)
    grade = "III" if kind in REOPERATED else rng.pick(MILD)
    resolved = detected + timedelta(days=rng.integers(20, 120))
    ends = rng.chance(RESOLVES_SHARE) and resolved <= last
    return {
        "kind": kind,
        "onset_earliest": onset if known else None,
        "onset_latest": onset if known else None,
        "detected_on": detected,
        "grade": grade,
        "relation": "procedure" if kind in ("nerve", "infection_superficial") else "construct",
        "action": GRADE_ACTION[grade],
        "resolved_on": resolved if ends else None,
    }


def _late(kind: str, operated: date, day: int, found: int, grade: str) -> dict[str, Any]:
    onset = operated + timedelta(days=day)
    return {
        "kind": kind,
        "onset_earliest": onset,
        "onset_latest": onset,
        "detected_on": operated + timedelta(days=found),
        "grade": grade,
        "relation": "construct",
        "action": GRADE_ACTION[grade],
        "resolved_on": None,
    }


def decision(
    rng: Draws,
    *,
    planned: bool,
    raised_on: date | None,
    removed_on: date | None,
    until: date,
) -> SimDecision | None:
    """Return where the question of removal stands, None when it was never raised."""
    because = "planned_removal" if planned else "symptoms"
    if removed_on is not None:
        raised = min(raised_on or removed_on, removed_on)
        return SimDecision(because, raised, "done", decided_on=removed_on)
    if raised_on is None or raised_on > until:
        return None
    state = rng.pick(LOOSE_ENDS)
    wait = rng.integers(5, 40)
    decided = min(until, raised_on + timedelta(days=wait))
    if state == "raised":
        return SimDecision(because, raised_on, state)
    ahead = until + timedelta(days=wait)
    return SimDecision(
        because,
        raised_on,
        state,
        decided_on=decided,
        wish_on=ahead if state == "planned" else None,
        deferred_until=ahead if state == "deferred" else None,
        reason={"deferred": WHY_NOT_YET, "declined": WHY_NOT}.get(state, ""),
    )
