"""Invented patients and their injuries."""

from datetime import date
from typing import Any

import pytest

from analytics.simulation import people
from analytics.simulation.draws import PERSON, Draws
from registry.models import identities, injuries
from registry.rules import matching

DAY = date(2025, 3, 1)
MANY = 400


def person(number: int) -> people.Person:
    return people.person(Draws(9, number, PERSON), number, DAY, 2)


IDENTITIES = [person(number).identity for number in range(MANY)]


def test_the_same_stream_makes_the_same_person() -> None:
    assert person(4) == person(4)
    assert person(4) != person(5)


def test_people_are_adults_of_plausible_age() -> None:
    # Of whom only the year of birth is known, some day of it makes them an adult.
    for one in IDENTITIES:
        assert (DAY - one["birth_earliest"]).days >= int(18 * 365.25)
        assert (DAY - one["birth_latest"]).days <= int(90 * 365.25)


def test_nobody_invented_can_be_rung_or_written_to() -> None:
    phones = [one["phone"] for one in IDENTITIES if one["phone"]]
    assert all(phone.startswith("0000 ") for phone in phones)
    assert len(set(phones)) == len(phones)
    assert all(one["email"].endswith(".invalid") for one in IDENTITIES if one["email"])


def test_the_preferred_means_is_one_that_reaches_the_person() -> None:
    for one in IDENTITIES:
        needed = {"phone": "phone", "text": "phone", "email": "email"}
        assert one["preferred_means"] == "letter" or one[needed[one["preferred_means"]]]


def test_of_a_few_only_the_year_of_birth_is_known() -> None:
    partial = [one for one in IDENTITIES if one["birth_earliest"] != one["birth_latest"]]
    assert 0 < len(partial) < 20
    assert all((one["birth_earliest"].day, one["birth_latest"].month) == (1, 12) for one in partial)


def slip(number: int) -> tuple[dict[str, Any], dict[str, Any]]:
    known = person(number).identity
    return known, people.typed_again(Draws(3, number), known)


def test_typing_somebody_again_makes_one_slip() -> None:
    for number in range(MANY):
        known, typed = slip(number)
        assert typed != known
        changed = {name for name in known if known[name] != typed[name]}
        assert changed in ({"family_name"}, {"birth_earliest", "birth_latest"})
        if changed == {"family_name"}:
            assert abs(len(typed["family_name"]) - len(known["family_name"])) <= 1
        else:
            assert abs((typed["birth_earliest"] - known["birth_earliest"]).days) in (1, 10)
            assert typed["phone"]


def test_somebody_typed_again_is_mostly_found_to_be_alike() -> None:
    def compared(one: dict[str, Any]) -> matching.Person:
        return matching.Person(
            one["family_name"], one["given_name"], one["birth_earliest"], one["sex"], one["phone"]
        )

    verdicts = [
        matching.compare(compared(known), compared(typed)).verdict
        for known, typed in (slip(number) for number in range(MANY))
    ]
    assert verdicts.count("different") / MANY < 0.05


def test_numbers_of_a_site_are_never_given_twice() -> None:
    given = [people.identifiers(0, "Merrow", n, again)[0] for n in range(5000) for again in (0, 1)]
    assert len(set(given)) == len(given)


def test_an_injury_has_the_classes_of_its_kind() -> None:
    for number in range(MANY):
        values, classes = people.injury(Draws(1, number), DAY, "HP")
        fracture = values["kind"] == "lateral_clavicle"
        assert ("neer" in classes, "rockwood" in classes) == (fracture, not fracture)
        for system, code in classes.items():
            assert code in injuries.CLASS_CODES[system]
        assert values["injured_earliest"] <= DAY <= values["injured_latest"]


@pytest.mark.parametrize(
    ("shares", "choices"),
    [
        (people.MECHANISMS, injuries.Mechanism),
        (people.DOMINANT, injuries.DominantArm),
        (people.OTHER_SHOULDER, injuries.OtherShoulder),
        (people.SMOKING, injuries.Smoking),
        (people.DIABETES, injuries.YesNo),
        (people.STEROIDS, injuries.YesNo),
        (people.OSTEOPOROSIS, injuries.YesNo),
        (people.WORK, injuries.Demand),
        (people.SPORT, injuries.SportDemand),
        (people.MEANS, identities.Means),
    ],
)
def test_shares_are_of_codes_that_the_registry_knows_and_add_up(
    shares: dict[str, float], choices: Any
) -> None:
    assert set(shares) <= set(choices.values)
    assert sum(shares.values()) == pytest.approx(1)


def test_consents_are_mostly_given() -> None:
    given = [people.consents(Draws(2, n), DAY) for n in range(2000)]
    for place, (purpose, share) in enumerate((("registry", 0.97), ("contact", 0.95))):
        rows = [pair[place] for pair in given]
        assert {row.purpose for row in rows} == {purpose}
        said_yes = sum(row.decision == "given" for row in rows) / len(rows)
        assert said_yes == pytest.approx(share, abs=0.015)
