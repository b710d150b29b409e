"""The reviews of one operation as they would stand today, by the planner's own rules."""

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from analytics.simulation.records import SimVisit
from config.demo.batch import Batch
from config.demo.bulk import new
from followup.models import ProtocolStep, Review
from followup.models.protocols import ProtocolVersion
from followup.rules import planner, requirements, states
from followup.rules.planner import Calendar, Ending, ExistingReview, PlannedReview
from followup.rules.windows import Window
from followup.selectors.protocols import version_for
from followup.services.completion import wanted_by
from followup.services.planning import PURPOSE, dates_of
from followup.services.protocols import plan_of
from registry.models import Person, Procedure
from registry.models.procedures import ProcedureKind


class Protocols:
    """The steps by purpose, site and construct type as they were in force, each read once."""

    def __init__(self) -> None:
        self._steps: dict[tuple[int, int | None, str, int], tuple[ProtocolStep, ...]] = {}
        # Between two of these days no version begins.
        days = ProtocolVersion.objects.values_list("effective_from", flat=True)
        self._begins = sorted(set(days))

    def steps(self, procedure: Procedure) -> tuple[ProtocolStep, ...]:
        """Return the steps that follow an operation, none after a washout."""
        purpose = PURPOSE.get(ProcedureKind(procedure.kind))
        if purpose is None:
            return ()
        construct = getattr(procedure, "construct", None)
        kind = construct.construct_type_id if construct else None
        stretch = bisect_right(self._begins, procedure.performed_on)
        key = (procedure.site.pk, kind, str(purpose), stretch)
        if key not in self._steps:
            version = version_for(
                site_id=procedure.site.pk,
                construct_type_id=kind,
                purpose=purpose,
                on=procedure.performed_on,
            )
            self._steps[key] = () if version is None else tuple(version.steps.all())
        return self._steps[key]


@dataclass(frozen=True)
class Happened:
    """What bears on a schedule: its visits, every visit of the injury, events, misses, endings."""

    visits: Sequence[SimVisit]
    all_visits: Sequence[SimVisit]
    event_days: Sequence[date]
    missed: Mapping[str, int]
    endings: Sequence[Ending]

    def first_finding(self, window: Window) -> date | None:
        """Return the first day inside a window on which anything was collected."""
        days = [one.on for one in self.all_visits if one.film or one.motion or one.scores]
        inside = (day for day in (*days, *self.event_days) if _holds(window, day))
        return min(inside, default=None)


def review_rows(
    batch: Batch,
    procedure: Procedure,
    steps: Iterable[ProtocolStep],
    calendar: Calendar,
    happened: Happened,
    *,
    by: Person,
    today: date,
) -> dict[str, Review]:
    """Add the reviews of an operation to a batch; return them by the code of their step."""
    by_code = {step.code: step for step in steps}
    plans = [plan_of(step) for step in by_code.values()]
    wanted = planner.plan(procedure.performed_on, plans, calendar, []).create
    attended = _attended(wanted, happened, today)
    closed = _closed(procedure, plans, calendar, wanted, attended, happened.endings)
    seen = {visit.step for visit in happened.visits}
    rows = {}
    for one in wanted:
        row = new(Review, procedure=procedure, step=by_code[one.step_code], **dates_of(one))
        row.missed_count = happened.missed.get(one.step_code, 0)
        for name, value in _state(one, attended, closed, today, row.missed_count).items():
            setattr(row, name, value)
        if row.attended_on is not None:
            row.asked = list(requirements.ASKED) if one.step_code in seen else []
            row.complete = _is_complete(row, one, happened.all_visits)
        rows[one.step_code] = batch.fact(row, site=procedure.site, by=by, on=procedure.performed_on)
        if row.attended_on is not None:
            # It was last touched at its visit: what was found there is no news to the night.
            row.changed_at = max(row.recorded_at, batch.moment(row.attended_on))
    return rows


def _attended(wanted: Iterable[PlannedReview], happened: Happened, today: date) -> dict[str, date]:
    came = {one.step: one.on for one in happened.visits if one.step}
    for one in wanted:
        if one.step_code not in came and one.window.closes_on < today:
            found = happened.first_finding(one.window)
            if found is not None:
                came[one.step_code] = found
    return came


def _closed(
    procedure: Procedure,
    plans: Sequence[Any],
    calendar: Calendar,
    wanted: Iterable[PlannedReview],
    attended: Mapping[str, date],
    endings: Sequence[Ending],
) -> Mapping[str, str]:
    there = [
        ExistingReview(
            one.step_code,
            one.window,
            one.proposed_on,
            states.ATTENDED if one.step_code in attended else states.PLANNED,
        )
        for one in wanted
    ]
    return planner.plan(procedure.performed_on, plans, calendar, there, endings).close


def _state(
    one: PlannedReview,
    attended: Mapping[str, date],
    closed: Mapping[str, str],
    today: date,
    missed: int,
) -> dict[str, Any]:
    if one.step_code in attended:
        return {"state": states.ATTENDED, "attended_on": attended[one.step_code]}
    if one.step_code in closed:
        return {"state": states.NOT_NEEDED, "ended_because": closed[one.step_code]}
    if one.window.closes_on < today:
        return {"state": states.LAPSED}
    return {"state": states.MISSED if missed else states.PLANNED}


def _is_complete(row: Review, one: PlannedReview, visits: Sequence[SimVisit]) -> bool:
    last = max(row.closes_on, row.attended_on or row.closes_on)
    inside = [visit for visit in visits if row.opens_on <= visit.on <= last]
    present = requirements.Present(
        film_views=frozenset(visit.film.view for visit in inside if visit.film),
        other_side_views=frozenset(
            visit.film.view for visit in inside if visit.film and visit.film.shows_both_sides
        ),
        motion=any(visit.motion for visit in inside),
        scores=frozenset(name for visit in inside for name in visit.scores),
        asked=frozenset(row.asked),
    )
    return not requirements.still_missing(wanted_by(row), present, {})


def _holds(window: Window, day: date) -> bool:
    return window.opens_on <= day <= window.closes_on
