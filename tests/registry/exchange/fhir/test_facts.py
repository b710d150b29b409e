from typing import Any

import pytest

from registry.exchange.fhir import facts, terms
from registry.rules.fhir.elements import absent_here
from registry.rules.fhir.reading import Node, unread
from tests import builders

pytestmark = pytest.mark.django_db
NAME = "injury-facts"


def node(*inner: dict[str, Any]) -> Node:
    given = {"extension": [{"url": terms.extension(NAME), "extension": list(inner)}]}
    return Node.of(given, "Condition")


def test_what_is_written_is_read_again_unknown_and_not_done_included() -> None:
    injury = builders.injury(mechanism="bicycle", bmi_kg_m2=None, missing={"bmi_kg_m2": "not_done"})
    written = facts.written(NAME, facts.INJURY, injury)
    back = Node.of({"extension": written}, "Condition")
    values, missing = facts.read(back, NAME, facts.INJURY)
    assert back.issues == []
    assert unread(back) == []
    assert values["mechanism"] == "bicycle"
    assert values["smoking"] == "unknown"
    assert missing == {"bmi_kg_m2": "not_done"}
    assert all(getattr(injury, name) == value for name, value in values.items())


def test_a_number_keeps_its_unit_and_a_wrong_one_is_refused() -> None:
    injury = builders.injury(bmi_kg_m2="24.5")
    (outer,) = facts.written(NAME, facts.INJURY, injury)
    bmi = next(one for one in outer["extension"] if one["url"] == "bmi_kg_m2")
    assert bmi["valueQuantity"]["code"] == "kg/m2"
    wrong = node({"url": "bmi_kg_m2", "valueQuantity": {"value": 24, "unit": "stone"}})
    facts.read(wrong, NAME, facts.INJURY)
    assert "kept in kg/m2" in wrong.issues[0].words
    assert wrong.issues[0].expression.endswith("extension[0].extension[0].valueQuantity.code")


@pytest.mark.parametrize(
    ("inner", "words"),
    [
        ({"url": "hair", "valueString": "red"}, "'hair' is none of"),
        (
            {"url": "mechanism", "valueCoding": {"system": "http://snomed.info/sct", "code": "1"}},
            "only https",
        ),
        ({"url": "mechanism", **absent_here("asked-declined")}, "cannot be kept"),
        ({"url": "bmi_kg_m2", "valueQuantity": {"value": "x", "unit": "kg/m2"}}, "no number"),
    ],
)
def test_what_cannot_be_kept_is_refused_with_words(inner: dict[str, Any], words: str) -> None:
    wrong = node(inner)
    facts.read(wrong, NAME, facts.INJURY)
    assert words in wrong.issues[0].words


def test_a_code_outside_our_system_is_refused_with_those_there_are() -> None:
    system = terms.system("mechanism")
    wrong = node({"url": "mechanism", "valueCoding": {"system": system, "code": "horse"}})
    facts.read(wrong, NAME, facts.INJURY)
    assert "'horse' is none of fall_standing" in wrong.issues[0].words


def test_a_whole_fact_without_its_value_is_asked_for() -> None:
    wrong = Node.of(
        {
            "extension": [
                {
                    "url": terms.extension("procedure-facts"),
                    "extension": [{"url": "duration_minutes", "valueString": "70"}],
                }
            ]
        },
        "Procedure",
    )
    values, _ = facts.read(wrong, "procedure-facts", facts.PROCEDURE)
    assert values == {}
    assert "valueInteger" in wrong.issues[0].words


def test_every_fact_is_a_column_with_a_system_of_ours() -> None:
    for fact in (*facts.INJURY, *facts.PROCEDURE, *facts.CONSTRUCT):
        assert fact.kind != facts.CODE or fact.of in terms.LOCAL_SYSTEMS
