import pytest

from registry.rules.fhir import value_sets

OBSERVATION = {
    "resourceType": "Observation",
    "status": "final",
    "code": {"text": "x"},
}


def test_a_code_outside_a_required_set_is_found_with_its_place() -> None:
    ((path, words),) = value_sets.faults({**OBSERVATION, "status": "done"})
    assert path == "Observation.status"
    assert "value set observation-status" in words


def test_a_code_inside_a_list_is_found_by_its_index() -> None:
    plan = {
        "resourceType": "CarePlan",
        "status": "active",
        "intent": "plan",
        "activity": [{"detail": {"status": "completed"}}, {"detail": {"status": "lapsed"}}],
    }
    ((path, _),) = value_sets.faults(plan)
    assert path == "CarePlan.activity[1].detail.status"


def test_a_code_of_a_known_system_is_held_to_it_wherever_it_stands() -> None:
    action = {"coding": [{"system": "http://hl7.org/fhir/device-action", "code": "removed"}]}
    given = {
        "resourceType": "Procedure",
        "status": "completed",
        "focalDevice": [{"action": action}],
    }
    ((path, words),) = value_sets.faults(given)
    assert path == "Procedure.focalDevice[0].action.coding[0].code"
    assert "implanted, explanted, manipulated" in words


@pytest.mark.parametrize("status", ["not-done", "completed", "entered-in-error"])
def test_what_is_in_its_set_passes(status: str) -> None:
    assert value_sets.faults({"resourceType": "Procedure", "status": status}) == []


def test_the_model_library_does_not_hold_codes_itself() -> None:
    # The reason for the tables: without them a wrong status would go out unseen.
    from tests.fhir import model_of  # noqa: PLC0415 - for this one test

    model_of("Observation").model_validate({**OBSERVATION, "status": "done"})
