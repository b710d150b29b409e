from datetime import date

import pytest

from registry.errors import BadInput
from registry.models import Part
from registry.services import fhir_corrections, implants
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db


def test_only_what_was_said_and_differs_is_named() -> None:
    row = builders.injury()
    values = {"side": "left", "mechanism": "bicycle", "energy": "", "missing": {}}
    assert fhir_corrections.differing("Condition", row, values) == ["mechanism"]
    who = {"family_name": "Other", "given_name": "Ada", "phone": ""}
    assert fhir_corrections.differing("Patient", row.patient, who) == ["family_name"]


def test_names_injuries_and_operations_are_corrected_by_their_services() -> None:
    row = builders.procedure()
    at = {"by": row.recorded_by, "now": NOW, "today": TODAY}
    person = row.injury.patient
    fhir_corrections.correct(kind="Patient", row=person, values={"sex": "male"}, **at)
    person.identity.refresh_from_db()
    assert (person.identity.sex, person.identity.version) == ("male", 2)
    row.injury.refresh_from_db()
    hurt = {"mechanism": "bicycle"}
    fhir_corrections.correct(kind="Condition", row=row.injury, values=hurt, **at)
    day = {"performed_on": date(2026, 6, 8)}
    fhir_corrections.correct(kind="Procedure", row=row, values=day, **at)
    row.refresh_from_db()
    assert (row.performed_on, row.version) == (date(2026, 6, 8), 2)


def test_what_stays_as_it_was_recorded_is_refused() -> None:
    row = builders.procedure()
    at = {"by": row.recorded_by, "now": NOW, "today": TODAY}
    with pytest.raises(BadInput, match="void it here"):
        fhir_corrections.correct(kind="Procedure", row=row, values={"kind": "other"}, **at)
    implants.add_part(
        construct=row.construct,
        given=implants.PartGiven("plate", "plate"),
        by=row.recorded_by,
        now=NOW,
    )
    part = Part.objects.get()
    assert fhir_corrections.differing("Device", part, {"description": "hook"}) == ["description"]
    with pytest.raises(BadInput, match="void it here"):
        fhir_corrections.correct(kind="Device", row=part, values={"batch": "B"}, **at)
