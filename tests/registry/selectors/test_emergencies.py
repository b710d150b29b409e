"""What an emergency opens, of which tables, and to whom; and what it never opens."""

from datetime import timedelta
from typing import Any

import pytest

from registry.models import Injury, Membership, Patient, PatientSite, Person
from registry.models.identities import Identifier, Identity
from registry.rules import roles
from registry.selectors import emergencies, patient_tables
from registry.selectors.visible import sites_of_patient, visible
from registry.services import emergencies as service
from tests import builders, world
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def now(time_machine: Any) -> None:
    time_machine.move_to(NOW, tick=False)


def sam() -> Person:
    """Return a surgeon of the south as a request knows them: nothing is remembered."""
    if not Person.objects.filter(username="sam").exists():
        builders.person("sam", south="surgeon")
    return Person.objects.get(username="sam")


def in_a_page(person: Person) -> Person:
    emergencies.let_in(person)
    return person


def opened(patient: Patient) -> None:
    service.open_patient(
        patient=patient,
        reason="brought in by ambulance after a fall",
        by=sam(),
        now=NOW,
        today=TODAY,
    )


def test_every_table_of_the_patient_at_that_site_is_open_and_no_other_row() -> None:
    builders.load_defaults()
    things = world.one_of_each("north")
    patient = Patient.objects.get(key=things["key"])
    opened(patient)
    user = in_a_page(sam())
    walked = 0
    for table in patient_tables.patient_tables():
        if not table.to_site or "__" in table.to_site:
            continue
        seen = visible(user, table.model, "see_patient")
        for way in table.to_patient:
            wanted = table.model._default_manager.filter(**{way: patient.pk}, site=patient.site_id)
            assert set(seen) == set(wanted), table.name
            walked += bool(wanted)
    assert walked > 20
    for model in (Identity, Identifier):
        assert {row.patient_id for row in visible(user, model, "see_identity")} == {patient.pk}
    assert list(visible(user, Patient)) == [patient]


def test_nothing_is_open_where_no_page_writes_down_what_it_shows() -> None:
    injury = builders.injury()
    opened(injury.patient)
    assert not visible(sam(), Injury).exists()
    assert visible(in_a_page(sam()), Injury).exists()


@pytest.mark.parametrize("action", sorted(set(roles.TABLE) - roles.READ_IN_EMERGENCY))
def test_no_other_right_is_given_and_no_writing_above_all(action: str) -> None:
    injury = builders.injury()
    opened(injury.patient)
    user = in_a_page(sam())
    assert not visible(user, Injury, action).exists()
    assert not visible(user, Patient, action).exists()


def test_reading_is_what_the_roles_at_home_permit() -> None:
    injury = builders.injury()
    opened(injury.patient)
    assert visible(in_a_page(sam()), Injury, "see_films").exists()
    Membership.objects.filter(person__username="sam").update(role="coordinator")
    assert not visible(in_a_page(sam()), Injury, "see_films").exists()
    assert visible(in_a_page(sam()), Injury, "see_patient").exists()
    Membership.objects.filter(person__username="sam").update(role="film_reader")
    assert not visible(in_a_page(sam()), Injury, "see_films").exists()
    Membership.objects.filter(person__username="sam").update(role="surgeon", ends_on="2026-11-24")
    assert not visible(in_a_page(sam()), Injury, "see_patient").exists()


def test_it_ends_by_itself(time_machine: Any) -> None:
    injury = builders.injury()
    opened(injury.patient)
    time_machine.move_to(NOW + timedelta(minutes=59, seconds=59), tick=False)
    assert visible(in_a_page(sam()), Injury).exists()
    time_machine.move_to(NOW + timedelta(minutes=60), tick=False)
    assert not visible(in_a_page(sam()), Injury).exists()


def test_another_person_another_patient_and_another_site_stay_shut() -> None:
    injury, other = builders.injury(), builders.injury()
    opened(injury.patient)
    PatientSite.objects.create(patient=injury.patient, site=builders.site("east"))
    elsewhere = builders.injury(injury.patient, site=builders.site("east"), side="right")
    assert not visible(in_a_page(builders.person("ines", south="surgeon")), Injury).exists()
    seen = set(visible(in_a_page(sam()), Injury))
    assert seen == {injury}
    assert not seen & {other, elsewhere}
    assert sites_of_patient(in_a_page(sam()), injury.patient) == sorted(
        [builders.site("north").pk, builders.site("south").pk]
    )


def test_own_rows_stay_beside_what_an_emergency_opens() -> None:
    own = builders.injury(builders.patient(builders.site("south")))
    injury = builders.injury()
    opened(injury.patient)
    assert set(visible(in_a_page(sam()), Injury)) == {own, injury}


def test_a_page_shows_the_patient_if_it_names_the_key_or_is_about_a_row_of_theirs() -> None:
    injury, other = builders.injury(), builders.injury()
    opened(injury.patient)
    user = in_a_page(sam())
    assert not emergencies.shown(user, injury.patient.key, [])
    visible(user, Injury)
    assert len(emergencies.shown(user, f"<p>{injury.patient.key}</p>", [])) == 1
    assert len(emergencies.shown(user, "", [injury.pk])) == 1
    assert not emergencies.shown(user, "", [other.pk])
    assert not emergencies.shown(user, other.patient.key, [])


@pytest.mark.parametrize("narrowed", [frozenset[int](), None])
def test_a_token_for_some_sites_reads_nothing_beyond_them_in_an_emergency_either(
    narrowed: frozenset[int] | None,
) -> None:
    injury = builders.injury()
    opened(injury.patient)
    user = in_a_page(sam())
    user.only_sites = narrowed  # as registry/api/scopes.py leaves it
    assert visible(user, Injury).exists() is (narrowed is None)
    assert bool(sites_of_patient(user, injury.patient)) is (narrowed is None)


def test_a_token_narrowed_to_its_persons_own_site_reads_nothing_beyond_it() -> None:
    injury = builders.injury()
    opened(injury.patient)
    user = in_a_page(sam())
    user.only_sites = frozenset({builders.site("south").pk})
    assert not visible(user, Injury).exists()
    assert sites_of_patient(user, injury.patient) == [builders.site("south").pk]
