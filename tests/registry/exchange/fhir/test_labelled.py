"""Labels of devices by the GS1 General Specifications, and HL7's own example whose two texts are of two labels."""

import base64
from datetime import date
from typing import Any

import pytest

from registry.exchange.fhir import labelled
from registry.rules import udi
from registry.rules.fhir.reading import Node, unread
from tests.builders import TODAY
from tests.fhir_bodies import DEVICE
from tests.fhir_published import TWO_DEVICES

SCANNED = "01095060001343521727013110LOT42A\x1d21SN0042"


def node(**changes: Any) -> Node:
    given = {**DEVICE, **changes}
    return Node.of({name: one for name, one in given.items() if one is not None}, "Device")


def carrier(**given: Any) -> list[dict[str, Any]]:
    return [{"entryType": "barcode", **given}]


def words(one: Node) -> dict[str, str]:
    return {issue.expression: issue.words for issue in one.issues}


def in_base64(text: str) -> str:
    return base64.b64encode(text.encode()).decode()


def test_every_element_of_the_body_is_read() -> None:
    one = node()
    came = labelled.part(one, TODAY)
    assert (words(one), unread(one)) == ({}, [])
    assert came.values["raw_identifier"] == "(01)09506000134352(17)270131(10)LOT42A(21)SN0042"


def test_a_machines_text_fills_what_is_not_said_beside_it() -> None:
    one = node(
        lotNumber=None,
        serialNumber=None,
        expirationDate=None,
        udiCarrier=carrier(carrierAIDC=in_base64(SCANNED)),
    )
    values = labelled.part(one, TODAY).values
    assert words(one) == {}
    assert (values["batch"], values["serial"]) == ("LOT42A", "SN0042")
    assert values["expires_on"] == date(2027, 1, 31)
    assert values["device_identifier"] == "09506000134352"
    assert values["raw_identifier"] == SCANNED


def test_the_standards_own_example_is_of_two_devices_and_is_told_so() -> None:
    # In its machine text the separator has become a printable arrow, and the printed text is of another.
    given = {"lotNumber": None, "serialNumber": None, "expirationDate": None}
    one = node(**given, udiCarrier=[TWO_DEVICES])
    labelled.part(one, TODAY)
    told = words(one)["Device.udiCarrier[0].carrierHRF"]
    assert "10857674002017 and 00844588003288" in told
    assert "NYFUL01 and 7654321D" in told


def test_what_only_one_text_says_is_no_disagreement() -> None:
    first = udi.read_part(SCANNED, today=TODAY)
    second = udi.read_part("(01)09506000134352(10)LOT42A", today=TODAY)
    assert labelled.disagreements(first, second) == []


@pytest.mark.parametrize(
    ("changes", "place"),
    [
        ({"lotNumber": "OTHER"}, "lotNumber"),
        ({"serialNumber": "OTHER"}, "serialNumber"),
        ({"expirationDate": "2028-01-31"}, "expirationDate"),
    ],
)
def test_what_is_said_beside_a_label_has_to_agree(changes: dict[str, str], place: str) -> None:
    one = node(**changes)
    labelled.part(one, TODAY)
    assert "The label says" in words(one)[f"Device.{place}"]


@pytest.mark.parametrize(
    ("given", "place", "told"),
    [
        ({"deviceIdentifier": "09506000134352"}, "issuer", "who issues"),
        (
            {
                "deviceIdentifier": "51022222233336",
                "issuer": "x",
                "carrierHRF": "(01)09506000134352",
            },
            "deviceIdentifier",
            "09506000134352",
        ),
        ({"carrierHRF": "(01)09506000134353"}, "carrierHRF", "check digit"),
        ({"carrierAIDC": "not base64!"}, "carrierAIDC", "base64"),
    ],
)
def test_a_label_that_cannot_be_right_is_refused(
    given: dict[str, str], place: str, told: str
) -> None:
    one = node(udiCarrier=carrier(**given))
    labelled.part(one, TODAY)
    assert told in words(one)[f"Device.udiCarrier[0].{place}"]


def test_a_label_that_can_be_read_in_two_ways_is_looked_at_first() -> None:
    lost = SCANNED.replace("\x1d", "")
    given = {
        "lotNumber": None,
        "serialNumber": None,
        "udiCarrier": carrier(carrierAIDC=in_base64(lost)),
    }
    one = node(**given)
    labelled.part(one, TODAY)
    assert "Device.udiCarrier[0].carrierAIDC" in words(one)
    tag = {"tag": [{"system": "https://registry.example/CodeSystem/intake", "code": "checked"}]}
    looked_at = node(**given, meta=tag)
    labelled.part(looked_at, TODAY)
    assert words(looked_at) == {}


def test_a_batch_that_cannot_be_had_and_a_quantity_are_kept() -> None:
    absent = "http://hl7.org/fhir/StructureDefinition/data-absent-reason"
    one = node(
        lotNumber=None,
        udiCarrier=None,
        _lotNumber={"extension": [{"url": absent, "valueCode": "unknown"}]},
        extension=[
            {
                "url": "https://registry.example/StructureDefinition/quantity",
                "valueInteger": 3,
            }
        ],
    )
    values = labelled.part(one, TODAY).values
    assert (values["batch_not_obtainable"], values["quantity"]) == (True, 3)
    assert unread(one) == []


def test_a_part_that_was_not_put_in_is_refused() -> None:
    one = node(status="inactive")
    labelled.part(one, TODAY)
    assert "active" in words(one)["Device.status"]
