"""What has to be refused: by HL7 FHIR R4, and what R5 has otherwise (from memory)."""

from typing import Any

import pytest

from registry.exchange.fhir import shapes
from tests.fhir_bodies import CONDITION, DEVICE, PATIENT, PROCEDURE


def told(resource: dict[str, Any]) -> dict[str, str]:
    return {one.expression: one.words for one in shapes.faults(resource, "X")}


@pytest.mark.parametrize("resource", [PATIENT, CONDITION, PROCEDURE, DEVICE])
def test_what_is_r4_passes(resource: dict[str, Any]) -> None:
    assert told(resource) == {}


def test_an_adverse_event_without_actuality_is_refused() -> None:
    event = {"resourceType": "AdverseEvent", "subject": {"reference": "Patient/p1"}}
    assert "actuality" in str(told(event))


def test_a_device_usage_of_r5_is_refused_with_what_r4_calls_it() -> None:
    assert "R4 has DeviceUseStatement" in told({"resourceType": "DeviceUsage"})["X.resourceType"]


def test_an_action_as_a_bare_word_is_refused_at_its_place() -> None:
    bare = {**PROCEDURE, "focalDevice": [{"action": "implanted"}]}
    assert "is an object" in told(bare)["X.focalDevice[0].action"]


@pytest.mark.parametrize("written", ["13/04/2026", "2026-04-13T10:00"])
def test_a_date_that_is_none_and_a_time_without_zone_are_refused(written: str) -> None:
    assert "X.performedDateTime" in told({**PROCEDURE, "performedDateTime": written})


@pytest.mark.parametrize(
    ("resource", "element"),
    [
        ({**DEVICE, "displayName": "plate"}, "displayName"),
        ({**DEVICE, "type": [DEVICE["type"]]}, "type"),
        ({**PROCEDURE, "occurrenceDateTime": "2026-03-02"}, "occurrenceDateTime"),
        ({**CONDITION, "participant": []}, "participant"),
    ],
)
def test_elements_of_r5_are_called_so(resource: dict[str, Any], element: str) -> None:
    assert "This is R5" in told(resource)[f"X.{element}"]


def test_an_element_that_no_release_has_is_refused() -> None:
    assert told({**PATIENT, "hairColour": "red"}) == {
        "X.hairColour": "R4 has no such element here."
    }


def test_a_code_outside_a_required_set_is_refused() -> None:
    assert "administrative-gender" in told({**PATIENT, "gender": "zzz"})["X.gender"]


def test_what_is_no_resource_and_what_is_not_taken_in_are_told_apart() -> None:
    assert "no resource 'Spoon'" in told({"resourceType": "Spoon"})["X.resourceType"]
    assert "no resource '../x'" in told({"resourceType": "../x"})["X.resourceType"]
    observation = {"resourceType": "Observation", "status": "final", "code": {"text": "x"}}
    assert "not taken in here" in told(observation)["X.resourceType"]
