"""Answering a person who asks what is held on them: one file with everything, and a line in the trail."""

from datetime import datetime
from typing import IO

from registry.errors import BadInput
from registry.exchange import access_reports
from registry.models.patients import Patient
from registry.models.people import Person
from registry.selectors import held
from registry.selectors.visible import site_ids
from registry.services import audit

LEAST_REASON = 5


def make(
    *, patient: Patient, reason: str, by: Person, now: datetime, target: IO[bytes]
) -> list[str]:
    """Write everything that is held on a person to a file; return what could not be enclosed.

    Raises BadInput without a reason, for an entry that was merged into another, or where the pages
    cannot be set.
    """
    if len(reason.strip()) < LEAST_REASON:
        raise BadInput({"reason": "Say who asked, when and in what way."})
    if patient.merged_into_id is not None:
        raise BadInput("This entry was merged into another; ask for the patient that was kept.")
    about = access_reports.About(patient.key, now, reason.strip())
    # Told first, so that the report holds its own making.
    audit.record_read(by=by, patient=patient, now=now, page=f"report of all: {reason.strip()}")
    try:
        return access_reports.write(target, held.held(patient), about)
    except ValueError as fault:
        raise BadInput(f"The pages cannot be set: {fault}") from fault


def refuse_part(*, patient: Patient, by: Person) -> None:
    """Refuse a report by somebody who may not answer at every site where the person is.

    Raises BadInput; which other sites there are is not said.
    """
    if not held.sites_of(patient) <= set(site_ids(by, "answer_access")):
        raise BadInput(
            "This person is known at a site where you hold no such role as well. Somebody who holds "
            "it at all of them makes the report, or an administrator by the command access_report."
        )
