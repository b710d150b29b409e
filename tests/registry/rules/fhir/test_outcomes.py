from registry.rules.fhir import outcomes
from tests.fhir import valid


def test_an_outcome_says_what_and_where() -> None:
    written = valid(outcomes.outcome([outcomes.error("value", "no date", "Patient.birthDate")]))
    assert written["issue"] == [
        {
            "severity": "error",
            "code": "value",
            "diagnostics": "no date",
            "expression": ["Patient.birthDate"],
        }
    ]


def test_without_issues_all_is_well() -> None:
    assert valid(outcomes.outcome([]))["issue"][0]["severity"] == "information"


def test_a_refusal_names_all_that_is_wrong_and_its_status() -> None:
    fault = outcomes.Refused(
        [outcomes.error("value", "a", "x"), outcomes.warning("value", "b")], 409
    )
    assert (str(fault), fault.status) == ("x: a; b", 409)
    assert outcomes.refused("value", "c", status=404).issues[0].words == "c"
