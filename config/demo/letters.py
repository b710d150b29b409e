"""A few letters of the invented service: one that went out, one that is still a draft, and a note."""

from datetime import date, datetime

from config.demo.staff import Staff
from followup.models import Review
from followup.models.letters import LetterKind, SentBy
from followup.rules.letters import COMPOSERS
from followup.selectors import letters as selector
from followup.services import letters
from registry.models import Person, Site
from registry.models.patients import PatientStatus

DOCTOR = "Dr Orla Penhallow\nSallow Lane Practice\n4 Sallow Lane"
# What was written about the newest visits of each site, newest visit first.
WRITTEN = (
    ((LetterKind.NOTE, "", True), (LetterKind.REFERRER, DOCTOR, True)),
    ((LetterKind.PATIENT, "", False),),
)


def write(staff: Staff, *, now: datetime, today: date) -> int:
    """Write the letters of every site; return how many."""
    return sum(_of_site(site, staff.coordinator, now, today) for site in staff.sites)


def _of_site(site: Site, by: Person, now: datetime, today: date) -> int:
    visits = (
        Review.objects.filter(
            site=site,
            attended_on__isnull=False,
            procedure__construct__isnull=False,
            procedure__injury__patient__status=PatientStatus.ACTIVE,
        )
        .select_related(
            "step",
            "site",
            "procedure__surgeon",
            "procedure__construct__construct_type",
            "procedure__injury__patient__identity",
        )
        .order_by("-attended_on", "id")[: len(WRITTEN)]
    )
    made = 0
    for review, kinds in zip(visits, WRITTEN, strict=False):
        author = review.procedure.surgeon or by
        for kind, addressee, goes_out in kinds:
            letter = letters.write_letter(
                review=review,
                kind=kind,
                head=selector.head_of(review),
                addressee=addressee or selector.addressee_for(review, kind),
                body=COMPOSERS[kind](selector.facts_of(review, str(author))),
                by=author,
                now=now,
            )
            if goes_out:
                letters.send_letter(
                    letter=letter,
                    means=SentBy.FILED if kind == LetterKind.NOTE else SentBy.POST,
                    on=today,
                    expected_version=letter.version,
                    by=by,
                    now=now,
                    today=today,
                )
            made += 1
    return made
