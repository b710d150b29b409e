from datetime import date

import pytest

from registry.models import Person
from registry.selectors.header_identities import (
    NOBODY,
    Named,
    candidates_for,
    named,
    speaks_against,
)
from registry.services import header_identities
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db
BORN = date(1971, 3, 4)
WHO = Named("N-004711", "Marlowe", "Agneta", BORN, "a.dcm")


def test_a_header_is_seen_at_its_site_by_who_sees_names(
    coordinator: Person, film_reader: Person, outsider: Person
) -> None:
    row = header_identities.keep(
        site=builders.site(),
        number=WHO.number,
        family_name=WHO.family_name,
        given_name=WHO.given_name,
        birth_date=BORN,
        file_name=WHO.file_name,
        now=NOW,
    )
    assert named(coordinator, [row, None]) == {row: WHO}
    assert named(film_reader, [row]) == named(outsider, [row]) == {}


def test_whom_a_header_may_mean_is_offered_with_why(coordinator: Person, outsider: Person) -> None:
    alike = builders.patient(
        family_name="Marlowe", given_name="Agneta", birth_earliest=BORN, birth_latest=BORN
    )
    builders.patient(family_name="Kessel", given_name="Ada")
    (one,) = candidates_for(coordinator, WHO)
    assert one.patient == alike
    assert "birth date" in one.because
    assert candidates_for(outsider, WHO) == []
    assert candidates_for(coordinator, NOBODY) == []


def test_a_number_of_the_patients_own_is_offered_first(coordinator: Person) -> None:
    patient = builders.patient()
    header = Named(patient.identifiers.get().value, "", "", None, "")
    assert [one.patient for one in candidates_for(coordinator, header)] == [patient]


def test_a_header_that_names_another_speaks_against_a_patient(coordinator: Person) -> None:
    other = builders.patient(family_name="Kessel", given_name="Ida")
    same = builders.patient(
        family_name="Marlowe", given_name="Agneta", birth_earliest=BORN, birth_latest=BORN
    )
    assert speaks_against(coordinator, WHO, other)
    assert not speaks_against(coordinator, WHO, same)
    assert not speaks_against(coordinator, NOBODY, other)
