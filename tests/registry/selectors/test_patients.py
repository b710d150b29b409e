"""Finding patients."""

from datetime import date
from typing import Any

import pytest

from registry.models import Patient, Person
from registry.rules import matching
from registry.selectors import patients as found
from registry.selectors.visible import may
from tests import builders

pytestmark = pytest.mark.django_db


def names(user: Person, text: str) -> list[str]:
    return [str(patient.identity) for patient in found.search(user, text)]


def given(**changes: Any) -> matching.Person:
    values = {
        "family_name": "Invented",
        "given_name": "Iris",
        "birth_date": date(1984, 3, 12),
        "sex": "female",
    }
    return matching.Person(**{**values, **changes})


def there(**changes: Any) -> Patient:
    born = changes.pop("born", date(1984, 3, 12))
    values = {"family_name": "Invented", "given_name": "Iris", "sex": "female"}
    return builders.patient(birth_earliest=born, birth_latest=born, **{**values, **changes})


def test_every_word_is_looked_for_in_names_numbers_and_keys(surgeon: Person) -> None:
    one = builders.patient(family_name="Quill", given_name="Ada")
    builders.patient(family_name="Quill", given_name="Bea")
    assert names(surgeon, "quill ADA") == ["Quill, Ada"]
    assert names(surgeon, one.identifiers.get().value) == ["Quill, Ada"]
    assert names(surgeon, one.key.lower()) == ["Quill, Ada"]
    assert names(surgeon, "quill") == ["Quill, Ada", "Quill, Bea"]
    assert names(surgeon, "nobody") == []


def test_without_words_everybody_here_is_found_in_order(surgeon: Person) -> None:
    builders.patient(family_name="Zed")
    builders.patient(family_name="Alder")
    builders.patient(at=builders.site("south"), family_name="Elsewhere")
    assert names(surgeon, "") == ["Alder, Ada", "Zed, Ada"]


def test_a_number_of_another_site_finds_nobody(surgeon: Person) -> None:
    patient = builders.patient(at=builders.site("south"))
    builders.injury(patient, site=builders.site())
    assert names(surgeon, patient.identifiers.get().value) == []


@pytest.mark.parametrize(
    ("differs", "because"),
    [
        ({}, "the same family name, given name, birth date"),
        ({"family_name": "Iris", "given_name": "Invented"}, "the same birth date"),
        ({"born": date(1984, 12, 3)}, "the same family name, given name"),
        ({"given_name": "Irene"}, "the same family name, birth date"),
        ({"family_name": "Invented-Lee"}, "the same given name, birth date"),
    ],
)
def test_a_similar_patient_is_offered_with_the_reason(
    surgeon: Person, differs: dict[str, Any], because: str
) -> None:
    patient = there(**differs)
    offered = found.candidates(surgeon, given())
    assert [(one.patient, one.because) for one in offered] == [(patient, because)]


def test_somebody_else_born_that_day_is_not_offered(surgeon: Person) -> None:
    there(family_name="Quill", given_name="Otto", sex="male")
    assert found.candidates(surgeon, given()) == []


def test_a_known_number_comes_first(surgeon: Person) -> None:
    there()
    numbered = there(family_name="Quill", given_name="Otto", born=date(1950, 1, 1))
    number = numbered.identifiers.get().value
    offered = found.candidates(surgeon, given(), [number])
    assert offered[0].because == found.SAME_NUMBER
    assert offered[0].patient == numbered
    assert len(offered) == 2


def test_patients_of_other_sites_and_the_patient_itself_are_never_offered(
    surgeon: Person,
) -> None:
    mine = there()
    builders.patient(at=builders.site("south"), family_name="Invented", given_name="Iris")
    assert found.candidates(surgeon, given(), leave_out=mine) == []


def test_a_birth_date_known_in_part_is_not_compared(surgeon: Person) -> None:
    there()
    assert len(found.candidates(surgeon, given(birth_date=None))) == 1


def test_an_enrolment_is_unfinished_until_its_construct_is_known(surgeon: Person) -> None:
    patient = builders.patient()
    hurt = builders.injury()
    builders.procedure()
    lacking = {(one.patient, one.url_name) for one in found.unfinished(surgeon)}
    assert lacking == {(patient, "enrol-injury"), (hurt.patient, "enrol-procedure")}


def test_another_sites_unfinished_enrolments_are_not_shown(surgeon: Person) -> None:
    builders.patient(at=builders.site("south"))
    assert found.unfinished(surgeon) == []


def test_searching_costs_the_same_for_ten_and_for_two_hundred(
    surgeon: Person, counted: Any
) -> None:
    may(surgeon, "enrol")  # the roles are asked for once, whatever the number of rows
    cost = []
    for number in (10, 200):
        while Patient.objects.count() < number:
            builders.patient(family_name="Many")
        with counted() as queries:
            for patient in found.search(surgeon, "many")[:50]:
                assert patient.identity
                assert patient.numbers
        cost.append(len(queries))
    assert cost[0] == cost[1]


def test_numbers_of_a_site_lead_to_their_patients() -> None:
    north, south = builders.site("north"), builders.site("south")
    here, there = builders.patient(north), builders.patient(south)
    number, elsewhere = (one.identifiers.get().value for one in (here, there))
    numbered = found.numbered(north, "hospital number", [number, elsewhere, "none"])
    assert list(numbered) == [number]
    assert (numbered[number].patient, numbered[number].given_name) == (here, "Ada")
    assert numbered[number].birth.exact
    assert found.numbered(north, "another system", [number]) == {}


def test_names_are_those_of_patients_at_ones_sites() -> None:
    here, there = builders.patient(), builders.patient(at=builders.site("south"))
    looker = builders.person("looker", north="coordinator", south="quality_lead")
    assert found.names_seen(looker, [here.pk, there.pk]) == {here.pk: str(here.identity)}
