"""Patients who may be the people of a list are found by what true pairs share, and scored."""

from datetime import date
from typing import Any

import pytest

from registry.models import Identity
from registry.rules.matching import REVIEW, SAME, Person
from registry.selectors import alike
from registry.services.enrolment import HOSPITAL_NUMBER
from tests import builders

pytestmark = pytest.mark.django_db
BORN = date(1986, 4, 12)
MILA = Person("Anders", "Mila", BORN, "female")


@pytest.fixture(autouse=True)
def mila() -> Any:
    site = builders.site()
    return builders.patient(
        site,
        builders.person("connie", north="coordinator"),
        family_name="Anders",
        given_name="Mila",
        birth_earliest=BORN,
        birth_latest=BORN,
        sex="female",
        phone="",
    )


def found(person: Person) -> list[alike.Alike]:
    return alike.alike_at(builders.site(), HOSPITAL_NUMBER, [person])[0]


@pytest.mark.parametrize(
    ("person", "verdict"),
    [
        (MILA, "same"),
        # One digit of the birth date, day and month exchanged, and names the other way round.
        (Person("Anders", "Mila", date(1986, 12, 4), "female"), "review"),
        (Person("Mila", "Anders", BORN, "female"), "review"),
        # A twin, and somebody who was married.
        (Person("Anders", "Lena", BORN, "female"), "review"),
        (Person("Berg", "Mila", BORN, "female"), "review"),
    ],
)
def test_who_may_be_the_same_is_found_with_a_verdict(person: Person, verdict: str) -> None:
    (one,) = found(person)
    assert one.match.verdict == verdict
    assert (one.match.weight >= SAME) == (verdict == "same") or verdict == "review"
    assert one.match.weight >= REVIEW


@pytest.mark.parametrize(
    "person",
    [Person("Berg", "Ida", BORN, "male"), Person("Berg", "Ida", date(1950, 1, 1), "female")],
)
def test_strangers_are_not_found(person: Person) -> None:
    assert found(person) == []


def test_the_numbers_of_a_patient_and_what_agrees_are_told(mila: Any) -> None:
    (one,) = found(MILA)
    assert one.numbers == {mila.identifiers.get().value}
    assert one.because == "the same family name, given name, birth date"


def test_voided_patients_and_other_sites_are_left_out(mila: Any) -> None:
    assert alike.alike_at(builders.site("south"), HOSPITAL_NUMBER, [MILA]) == [[]]
    type(mila).objects.filter(pk=mila.pk).update(
        voided_at=mila.recorded_at, voided_by=mila.recorded_by, void_reason="x"
    )
    assert found(MILA) == []


def test_many_people_cost_as_many_queries_as_few(counted: Any) -> None:
    def cost(number: int) -> int:
        people = [Person(f"Fam{n}", "Mila", BORN) for n in range(number)]
        with counted() as queries:
            alike.alike_at(builders.site(), HOSPITAL_NUMBER, people)
        return len(queries)

    builders.site()
    assert cost(3) == cost(150)


def test_an_index_finds_people_by_day_name_and_telephone() -> None:
    index = alike.Index()
    index.add(1, MILA)
    index.add(2, Person("Berg", "Ida", date(1950, 1, 1), phone="1"))
    assert index.near(Person("Mila", "Anders")) == [1]
    assert index.near(Person("Zorn", "Otto", date(1986, 12, 4))) == [1]
    assert index.near(Person("Zorn", "Otto", phone="1")) == [2]
    assert index.near(Person("Zorn", "Otto")) == []


def test_who_may_not_see_names_is_shown_no_entry(mila: Any) -> None:
    connie = builders.person("connie", north="coordinator")
    admin = builders.person("adam", north="administrator")
    entry = alike.entries_of(connie, [mila.pk])[mila.pk]
    assert (entry.name, entry.birth) == ("Anders, Mila", "1986-04-12")
    assert alike.entries_of(admin, [mila.pk]) == {}
    assert Identity.objects.count() == 1
