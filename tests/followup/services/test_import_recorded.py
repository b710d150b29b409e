"""Whose a row is, is known by number, likely by score, said by somebody, or asked."""

import pytest

from followup.rules.case_facts import ParsedCase
from followup.rules.case_rows import parse_row
from followup.services import imports
from followup.services.import_plans import How
from followup.services.import_recorded import Answers, Recorded, Who
from registry.models import Patient
from registry.rules.matching import REVIEW, SAME
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup.case_files import case, file_of

pytestmark = pytest.mark.usefixtures("defaults")
MISTYPED = {"birth_date": "1986-04-13"}


def parsed(line: int, number: int, **cells: str) -> ParsedCase:
    named = {name: case()[name] for name in ("family_name", "given_name")}
    found = parse_row(
        line,
        case(number, **(named | cells)),
        known_construct_types=["LP"],
        known_surgeons=[],
        today=TODAY,
    )
    assert isinstance(found, ParsedCase)
    return found


def record() -> Patient:
    imports.import_cases(
        source=file_of(case()),
        file_name="cases.csv",
        site=builders.site(),
        by=builders.person("connie", north="coordinator"),
        now=NOW,
        how=How(TODAY),
    )
    return Patient.objects.get()


def whose(*cases: ParsedCase, answers: Answers | None = None) -> list[Who]:
    recorded = Recorded(builders.site(), answers=answers or {})
    recorded.load(cases)
    found = []
    for one in cases:
        who = recorded.who(one)
        if not who.asks:
            recorded.add(one)
        found.append(who)
    return found


def test_a_number_that_is_known_needs_no_likeness() -> None:
    patient = record()
    (who,) = whose(parsed(2, 417))
    assert (who.patient, who.pairs) == (patient, ())


def test_the_same_in_everything_is_one_patient_under_two_numbers() -> None:
    patient = record()
    (who,) = whose(parsed(2, 9))
    assert who.joins is not None
    assert who.joins.other_patient == patient.pk
    assert who.joins.weight >= SAME
    assert who.joins.likely


def test_between_the_thresholds_a_person_is_asked() -> None:
    record()
    (who,) = whose(parsed(2, 9, **MISTYPED))
    assert (who.joins, len(who.asks)) == (None, 1)
    assert REVIEW <= who.asks[0].weight < SAME


def test_below_the_lower_threshold_they_are_two() -> None:
    record()
    (who,) = whose(parsed(2, 9, family_name="Berg", given_name="Ida"))
    assert who == Who()


@pytest.mark.parametrize(("answer", "joins"), [("same", True), ("other", False)])
def test_what_was_said_holds_either_way(answer: str, joins: bool) -> None:
    patient = record()
    for cells in ({}, MISTYPED):
        answers = {("000009", f"patient {patient.pk}"): answer}
        (who,) = whose(parsed(2, 9, **cells), answers=answers)
        assert (who.joins is not None, who.asks) == (joins, ())
        assert bool(who.different) is not joins


def test_people_of_the_file_are_compared_with_each_other() -> None:
    first, second, third = whose(parsed(2, 1), parsed(3, 2), parsed(4, 3, **MISTYPED))
    assert first == Who()
    assert second.joins is not None
    assert (second.joins.other_line, second.joins.other_number) == (2, "000001")
    assert [one.other_line for one in third.asks] == [2]


def test_an_answer_about_a_line_holds_once_that_line_has_become_a_patient() -> None:
    record()
    answers = {("000009", "number 000417"): "other"}
    (who,) = whose(parsed(2, 9, **MISTYPED), answers=answers)
    assert (who.asks, len(who.different)) == ((), 1)


def test_two_who_are_both_likely_are_asked_about() -> None:
    record()
    first, second = whose(parsed(2, 8), parsed(3, 9, phone="1"))
    assert first.joins is not None
    assert second.joins is not None
    answers = {("000008", f"patient {Patient.objects.get().pk}"): "other"}
    _, both = whose(parsed(2, 8), parsed(3, 9), answers=answers)
    assert [one.likely for one in both.asks] == [True, True]


def test_all_lines_of_a_number_are_of_one_person() -> None:
    one, again = whose(parsed(2, 1), parsed(3, 1, side="right"))
    assert one is again
