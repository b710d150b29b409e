from registry.rules.fhir.capability import Offered, statement
from tests.fhir import valid


def test_the_statement_says_types_parameters_and_operations() -> None:
    offers = [
        Offered("Patient", {"identifier": "token"}, taken_in=True, note="people"),
        Offered("Task", {"status": "token"}, taken_in=False),
    ]
    told = valid(
        statement("https://here.example/fhir/r4", "https://r.example", offers, "2026-11-30")
    )
    assert told["fhirVersion"] == "4.0.1"
    people, tasks = told["rest"][0]["resource"]
    assert [one["name"] for one in people["searchParam"]] == ["identifier"]
    assert people["conditionalCreate"] is True
    assert people["operation"][0]["name"] == "export"
    assert tasks["conditionalCreate"] is False
    assert "operation" not in tasks
    assert told["rest"][0]["interaction"] == [{"code": "transaction"}]
