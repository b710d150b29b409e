"""Deciding about a patient whose records are past their time: erased under a rule, with proof, or kept."""

from datetime import date, datetime

from django.db import transaction

from followup.selectors import retention as selector
from registry.errors import BadInput, NotAllowed
from registry.models.patients import Patient
from registry.models.people import Person
from registry.models.retention import RetentionKind
from registry.services import erasure, retention
from registry.services.erasure import Erasure


def erase(*, patient: Patient, reason: str, by: Person, now: datetime, today: date) -> Erasure:
    """Erase a patient under the rule of their site, and write the proof, which names nobody.

    Raises BadInput without a reason, or where the records are held or not past their time any more;
    NotAllowed where the patient is at a site at which `by` does not decide.
    """
    if not reason.strip():
        raise BadInput(
            {"reason": "Say who decided it, and after looking at what. Name no patient."}
        )
    with transaction.atomic():
        # The lock makes a hold that is set meanwhile come before or after.
        row = Patient.everything.select_for_update().get(pk=patient.pk)
        _may_decide(row, by)
        if (held := selector.hold_on(row, today)) is not None:
            raise BadInput(f"{row} is kept in spite of the rule: {held.reason}. Lift that first.")
        past = _past(row, by, today)
        words = f"past {past.rule.keep} years, {past.rule.basis}"
        done = erasure.erase_patient(
            patient=row,
            reason=f"{words}; {reason.strip()}",
            by=by,
            now=now,
            today=today,
            on="under a rule",
        )
        retention.prove(
            kind=RetentionKind.PATIENTS,
            number=1,
            words=words,
            site=past.site,
            rule=past.rule,
            by=by,
            now=now,
        )
    return done


def keep(
    *, patient: Patient, until: date | None, reason: str, by: Person, now: datetime, today: date
) -> None:
    """Keep a patient's records in spite of the rule; raises as `retention.hold` and `_may_decide` do."""
    _may_decide(patient, by)
    retention.hold(
        patient=patient,
        site=patient.site,
        until=until,
        reason=reason,
        by=by,
        now=now,
        today=today,
    )


def lift(*, patient: Patient, because: str, by: Person, now: datetime, today: date) -> None:
    """Let the rule hold again; raises as `retention.lift` and `_may_decide` do."""
    _may_decide(patient, by)
    retention.lift(patient=patient, because=because, by=by, now=now, today=today)


def _may_decide(patient: Patient, by: Person) -> None:
    if selector.decides_for(by, patient):
        raise NotAllowed(
            f"{patient} is at another site too. Somebody who decides at each of them has to do this."
        )


def _past(patient: Patient, by: Person, today: date) -> selector.Past:
    for one in selector.sites_past(by, today):
        if selector.past_their_time(by, one, today).filter(pk=patient.pk).exists():
            return one
    raise BadInput(
        f"{patient} is not past the time of the rule any more: something was recorded since, or the rule "
        "was changed."
    )
