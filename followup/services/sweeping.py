"""The nightly look over every review: what is missing is planned, what has run out lapses."""

from dataclasses import dataclass
from datetime import date, datetime

from followup.services import calendars, completion, planning, reviews
from registry.models.patients import PatientStatus
from registry.models.procedures import Procedure
from registry.models.sites import Site
from registry.selectors.chunks import in_chunks
from registry.services import jobs
from registry.services.background import background_person


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
    calendars.fill_every_site(by=by, now=now, today=today)
    moved = sum(
        planning.move_proposals(site_id=site_id, by=by, now=now, today=today)
        for site_id in Site.objects.filter(is_active=True).values_list("pk", flat=True)
    )
    lapsed = reviews.lapse_closed(by=by, now=now, today=today)
    return Swept(planned, moved, lapsed, completion.complete_attended(by=by, now=now))
