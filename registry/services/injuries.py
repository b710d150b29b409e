"""Correcting an injury that is already recorded."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from registry.errors import BadInput
from registry.models.identities import Identity
from registry.models.injuries import Injury
from registry.models.people import Person
from registry.models.procedures import Procedure
from registry.services import records
from registry.services.enrolment import age_at, injury_possible


def correct_injury(
    *,
    injury: Injury,
    values: Mapping[str, Any],
    expected_version: int,
    reason: str,
    by: Person,
    now: datetime,
    today: date,
) -> Injury:
    """Correct an injury; the age at injury follows its date.

    Raises StaleVersion when somebody changed it first, BadInput when the date is impossible or the side
    of an injury that was operated is another: for that is services/moves.py.
    """
    _same_side(injury, values)
    for name, value in values.items():
        setattr(injury, name, value)
    identity = Identity.objects.filter(patient_id=injury.patient_id).first()
    injury_possible(injury, identity, today)
    _not_after_operation(injury)
    new = dict(values)
    if identity is not None:
        new["age_years"] = age_at(identity, injury)
    return records.save(
        injury, new, by=by, now=now, expected_version=expected_version, reason=reason
    )


def follow_identity(*, identity: Identity, by: Person, now: datetime) -> None:
    """Let age and sex at each injury follow a corrected birth date or sex.

    Raises BadInput when the corrected birth lies after an injury.
    """
    for injury in Injury.objects.filter(patient_id=identity.patient_id):
        if injury.injured_latest < identity.birth_earliest:
            raise BadInput({"birth_date": f"This is after an injury ({injury.injured_latest})."})
        new = {"age_years": age_at(identity, injury), "sex": identity.sex}
        if (injury.age_years, injury.sex) != (new["age_years"], new["sex"]):
            records.save(
                injury,
                new,
                by=by,
                now=now,
                expected_version=injury.version,
                reason="the identity was corrected",
            )


def _same_side(injury: Injury, values: Mapping[str, Any]) -> None:
    """Leave the side of an operated injury to the act that takes along what was examined."""
    turned = values.get("side", injury.side) != injury.side
    if turned and Procedure.objects.filter(injury=injury).exists():
        raise BadInput(
            {"side": "Put the side right from the patient's page, where exams of motion follow."}
        )


def _not_after_operation(injury: Injury) -> None:
    first = Procedure.objects.filter(injury=injury).order_by("performed_on").first()
    if first is not None and injury.injured_earliest > first.performed_on:
        raise BadInput(
            {
                "injury_date": (
                    f"{injury.injured_earliest} is after the first operation "
                    f"({first.performed_on}). Correct one of the two dates."
                )
            }
        )
