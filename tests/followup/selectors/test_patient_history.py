"""One patient's whole history: every table, no other site's, and nothing that would lead a blind hand."""

from typing import Any

import pytest

from followup.models import Reading, WantedReading
from followup.selectors.patient_history import entries_of
from registry.models import Patient, Person
from registry.selectors import patient_tables
from tests import builders, world
from tests.builders import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def things(time_machine: Any) -> dict[str, Any]:
    time_machine.move_to(NOW)
    builders.load_defaults()
    return world.one_of_each("north")


def test_every_table_with_a_row_of_the_patient_is_told(things: dict[str, Any]) -> None:
    patient = Patient.objects.get(key=things["key"])
    viewer = Person.objects.get(username="north_everything")
    told = set(entries_of(viewer, patient).values_list("table", flat=True))
    for table in patient_tables.patient_tables():
        for way in table.to_patient:
            if table.model._base_manager.filter(**{way: patient.pk}).exists():
                assert table.name in told, table.name
    assert len(told) > 30


def test_who_sees_one_site_is_told_nothing_of_another(things: dict[str, Any]) -> None:
    patient = Patient.objects.get(key=things["key"])
    elsewhere = builders.person("elsewhere", south="surgeon")
    told = set(entries_of(elsewhere, patient).values_list("table", flat=True))
    shared = {table.name for table in patient_tables.patient_tables() if not table.to_site}
    assert told <= shared


def test_what_others_read_is_kept_from_whoever_has_taken_the_film_to_read_it_blind(
    things: dict[str, Any],
) -> None:
    patient = Patient.objects.get(key=things["key"])
    reading = Reading.objects.get(pk=things["reading_id"])
    second = builders.person("second", north="surgeon")
    about = {"table": "followup_reading", "row_id": str(reading.pk)}
    assert entries_of(second, patient).filter(**about).exists()
    WantedReading.objects.filter(pk=things["wanted_id"]).update(reader=second)
    assert not entries_of(second, patient).filter(**about).exists()
