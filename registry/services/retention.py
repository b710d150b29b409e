"""Ruling how long a site keeps what, holding a patient in spite of it, and proving what was destroyed."""

from datetime import date, datetime

from registry.errors import BadInput, StaleVersion
from registry.models.patients import Patient
from registry.models.people import Person
from registry.models.retention import Destruction, RetentionHold, RetentionRule
from registry.models.sites import Site
from registry.rules import retention as rules
from registry.selectors import retention as selector
from registry.services import records


def set_rule(
    *,
    site: Site,
    kind: str,
    keep: int,
    least: int | None,
    basis: str,
    expected_version: int,
    by: Person,
    now: datetime,
) -> RetentionRule:
    """Put a rule in force; the one before it ends and is kept.

    Raises BadInput for a time that cannot be or without the law or policy behind it, StaleVersion when
    somebody was quicker.
    """
    if kind not in rules.KINDS:
        raise BadInput({"kind": f"'{kind}' is none of {', '.join(rules.KINDS)}."})
    faults = rules.faults_of(rules.KINDS[kind], keep, least)
    if not basis.strip():
        faults["basis"] = "Name the law or policy that your site follows."
    if faults:
        raise BadInput(faults)
    with records.change(by=by, reason=f"how long is kept: {basis.strip()}"[:400]):
        # The lock makes two who decide at once come one after the other.
        Site.objects.select_for_update(no_key=True).get(pk=site.pk)
        rows = RetentionRule.objects.filter(site=site, kind=kind)
        made = rows.count()
        if made != expected_version:
            raise StaleVersion(f"The rule of {site}", expected=expected_version, current=made)
        rows.filter(ended_at__isnull=True).update(ended_at=now, ended_by=by)
        return RetentionRule.objects.create(
            site=site,
            kind=kind,
            version=made + 1,
            keep=keep,
            least=least,
            basis=basis.strip()[:300],
            set_at=now,
            set_by=by,
        )


def hold(
    *,
    patient: Patient,
    site: Site,
    until: date | None,
    reason: str,
    by: Person,
    now: datetime,
    today: date,
) -> RetentionHold:
    """Keep a patient's records in spite of the rule: until a day, or until that is lifted.

    Raises BadInput without a reason, for a day that is not to come, or for one who is kept already.
    """
    if not reason.strip():
        raise BadInput({"reason": "Say why these records are kept. Name nobody."})
    if until is not None and until <= today:
        raise BadInput(
            {"until": f"{until} is not to come; leave it empty to keep until it is lifted."}
        )
    with records.change(by=by, reason=f"kept in spite of the rule: {reason.strip()}"[:400]):
        Patient.objects.select_for_update().get(pk=patient.pk)
        if selector.standing_holds(today).filter(patient=patient).exists():
            raise BadInput(f"{patient} is kept already.")
        return RetentionHold.objects.create(
            patient=patient,
            site=site,
            until=until,
            reason=reason.strip()[:300],
            made_at=now,
            made_by=by,
        )


def lift(*, patient: Patient, because: str, by: Person, now: datetime, today: date) -> int:
    """Let the rule hold again for a patient; return how many holds that ended.

    Raises BadInput without a reason, or where nothing is held.
    """
    if not because.strip():
        raise BadInput({"reason": "Say why they need not be kept any more."})
    with records.change(by=by, reason=f"kept no more: {because.strip()}"[:400]):
        standing = selector.standing_holds(today).filter(patient=patient)
        ended = standing.update(lifted_at=now, lifted_by=by, lifted_because=because.strip()[:300])
        if not ended:
            raise BadInput(f"{patient} is not kept in spite of a rule.")
    return ended


def prove(
    *,
    kind: str,
    number: int,
    words: str,
    now: datetime,
    site: Site | None = None,
    by: Person | None = None,
    rule: RetentionRule | None = None,
) -> None:
    """Write down that so many records were destroyed; of none there is nothing to prove.

    To be called in the transaction of the destruction.
    """
    if number:
        Destruction.objects.create(
            site=site, kind=kind, number=number, at=now, by=by, rule=rule, words=words[:300]
        )
