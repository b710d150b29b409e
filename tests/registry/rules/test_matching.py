from dataclasses import replace
from datetime import date

import pytest

from registry.rules.matching import CHANCES, Person, compare, plain

ADA = Person("M\u00fcller-Lind", "Ada", date(1980, 5, 7), "female", "0301234567")


def test_everything_that_agrees_is_the_same_person() -> None:
    # 9.89 + 6.52 + 14.58 + 0.99 + 10.73: weights log2(m/u) after Fellegi and Sunter 1969.
    found = compare(ADA, ADA)
    assert found.weight == pytest.approx(42.71, abs=0.02)
    assert found.verdict == "same"


def test_a_new_telephone_number_needs_a_look() -> None:
    found = compare(ADA, replace(ADA, phone="0409999999"))
    assert found.weight == pytest.approx(29.25, abs=0.02)
    assert found.verdict == "review"


def test_another_birth_date_needs_a_look() -> None:
    found = compare(ADA, replace(ADA, birth_date=date(1991, 11, 23)))
    assert found.weight == pytest.approx(22.49, abs=0.02)
    assert found.verdict == "review"


@pytest.mark.parametrize("typed", [date(1980, 7, 5), date(1980, 5, 8), date(1981, 5, 7)])
def test_a_mistyped_birth_date_weighs_half_and_needs_a_look(typed: date) -> None:
    found = compare(ADA, replace(ADA, birth_date=typed))
    assert found.weight == pytest.approx(42.71 - 14.58 / 2, abs=0.02)
    assert found.verdict == "review"


def test_swapped_names_agree_and_need_a_look() -> None:
    found = compare(ADA, replace(ADA, family_name="Ada", given_name="M\u00fcller-Lind"))
    assert found.weight == pytest.approx(42.71, abs=0.02)
    assert found.verdict == "review"


def test_two_strangers_are_different() -> None:
    stranger = Person("Okafor", "Tom", date(1961, 1, 2), "male", "0107777777")
    assert compare(ADA, stranger).verdict == "different"


def test_what_is_not_known_is_not_compared() -> None:
    names_only = Person("Okafor", "Tom")
    assert compare(names_only, names_only).weight == pytest.approx(9.89 + 6.52, abs=0.02)
    unknown_sex = replace(ADA, sex="unknown")
    assert compare(ADA, unknown_sex).weight == pytest.approx(42.71 - 0.99, abs=0.02)


def test_a_published_weight_is_reproduced(monkeypatch: pytest.MonkeyPatch) -> None:
    # m 0.9 and u 0.01 give log2(90) = 6.49, a worked example of the Fellegi-Sunter weight.
    monkeypatch.setitem(CHANCES, "given_name", (0.9, 0.01))
    ratio = compare(Person("A", "B"), Person("A", "B")).weight - 9.89
    assert ratio == pytest.approx(6.49, abs=0.02)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("M\u00fcller-Lind", "muller lind"),
        ("O'Brien", "OBRIEN"),
        ("S\u00f8rensen", "Sorensen"),
        ("\u0141ukasz", "lukasz"),
        ("Stra\u00dfer", "Strasser"),
        ("\u0418\u0432\u0430\u043d\u043e\u0432", "\u0438\u0432\u0430\u043d\u043e\u0432"),
    ],
)
def test_accents_case_and_hyphens_do_not_part_names(one: str, other: str) -> None:
    assert plain(one) == plain(other) != ""


def test_names_in_another_script_stay_apart() -> None:
    assert plain("\u0418\u0432\u0430\u043d\u043e\u0432") != plain(
        "\u041f\u0435\u0442\u0440\u043e\u0432"
    )
