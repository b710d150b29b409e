"""The nightly look over every review: what is missing is planned, what has run out lapses."""

import logging
from dataclasses import dataclass
from datetime import date, datetime

from followup.services import calendars, completion, planning, reviews
from registry.errors import BadInput
from registry.models.patients import PatientStatus
from registry.models.people import Person
from registry.models.procedures import Procedure
from registry.models.sites import Site
from registry.selectors.chunks import in_chunks
from registry.services import jobs
from registry.services.background import background_person

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Swept:
    """How many operations were planned, proposed days moved, reviews lapsed, and completed since."""

    planned: int
    moved: int
    lapsed: int
    completed: int


def sweep(*, now: datetime, today: date) -> Swept:
    """Fill in public holidays ahead, plan what has no review yet, move what is proposed on a day without a clinic, let lapse what
    has closed, and complete what was found after its visit; twice a day equals once.
    """
    by = background_person()
    planned = 0
    without = Procedure.objects.filter(
        kind__in=list(planning.PURPOSE),
        reviews__isnull=True,
        injury__patient__status=PatientStatus.ACTIVE,
    )
    for chunk in in_chunks(without.select_related("site", "injury__patient", "construct")):
        for procedure in chunk:
            made = planning.plan_reviews(procedure=procedure, by=by, now=now, today=today)
            planned += not made.is_empty
        jobs.beat(len(chunk))
    _fill_holidays(by=by, now=now, today=today)
    moved = sum(
        planning.move_proposals(site_id=site_id, by=by, now=now, today=today)
        for site_id in Site.objects.filter(is_active=True).values_list("pk", flat=True)
    )
    lapsed = reviews.lapse_closed(by=by, now=now, today=today)
    return Swept(planned, moved, lapsed, completion.complete_attended(by=by, now=now))


def _fill_holidays(*, by: Person, now: datetime, today: date) -> None:
    """Close every site on its public holidays ahead; one whose place is unknown waits to be corrected."""
    for site in Site.objects.filter(is_active=True):
        try:
            calendars.fill_holidays(site=site, by=by, now=now, today=today)
        except BadInput as fault:
            log.warning("No public holidays are filled in: %s", fault)
