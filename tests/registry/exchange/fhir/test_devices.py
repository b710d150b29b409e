import base64
from datetime import date

import pytest

from registry.exchange.fhir import devices
from registry.models import Part, Procedure
from registry.rules.fhir.elements import absent_here
from registry.selectors import fhir_rows
from registry.services import implants, records
from tests import builders
from tests.builders import NOW
from tests.fhir import valid
from tests.fhir_rows import seen
from tests.implanted import later

pytestmark = pytest.mark.django_db
# A string of our own making after the GS1 General Specifications, as a scanner sends it and in base64.
SCANNED = "01095060001343521727013110LOT42A\x1d21SN0042"
IN_BASE64 = "MDEwOTUwNjAwMDEzNDM1MjE3MjcwMTMxMTBMT1Q0MkEdMjFTTjAwNDI="


def part(operation: Procedure | None = None, **given: object) -> Part:
    row = operation or builders.procedure()
    return implants.add_part(
        construct=row.construct,
        given=implants.PartGiven("plate", "plate, six holes", **given),  # type: ignore[arg-type]
        by=row.recorded_by,
        now=NOW,
    )


def test_a_part_has_its_article_batch_serial_and_label() -> None:
    row = part(
        device_identifier="09506000134352",
        catalogue_number="C-6",
        batch="LOT42A",
        serial="SN0042",
        expires_on=date(2027, 1, 31),
        raw_identifier=SCANNED,
        made_on=date(2025, 1, 31),
    )
    made = valid(devices.device(seen(fhir_rows.parts, row), named=True))
    (carrier,) = made["udiCarrier"]
    assert carrier["deviceIdentifier"] == "09506000134352"
    assert carrier["issuer"] == "http://hl7.org/fhir/NamingSystem/gs1"
    assert carrier["carrierAIDC"] == IN_BASE64
    assert base64.b64decode(carrier["carrierAIDC"]).decode() == SCANNED
    assert (made["lotNumber"], made["serialNumber"]) == ("LOT42A", "SN0042")
    assert (made["expirationDate"], made["partNumber"]) == ("2027-01-31", "C-6")
    assert made["manufactureDate"] == "2025-01-31"
    assert "extension" not in made


def test_several_of_a_part_say_how_many() -> None:
    made = valid(devices.device(seen(fhir_rows.parts, part(quantity=2)), named=True))
    assert made["extension"] == [
        {"url": "https://registry.example/StructureDefinition/quantity", "valueInteger": 2}
    ]


def test_a_printed_label_goes_out_as_it_is_read() -> None:
    text = "(01)09506000134352(10)LOT42A"
    row = part(device_identifier="09506000134352", raw_identifier=text)
    (carrier,) = devices.device(seen(fhir_rows.parts, row), named=True)["udiCarrier"]
    assert carrier["carrierHRF"] == text
    assert "carrierAIDC" not in carrier


def test_a_batch_that_cannot_be_had_is_said_to_be_unknown() -> None:
    row = part(batch_not_obtainable=True)
    made = valid(devices.device(seen(fhir_rows.parts, row), named=True))
    assert made["_lotNumber"]["extension"][0]["valueCode"] == "unknown"
    assert "udiCarrier" not in made


def test_a_part_is_in_the_body_until_its_removal() -> None:
    operation = builders.procedure()
    row = part(operation)
    inside = valid(devices.use(seen(fhir_rows.parts, row)))
    assert (inside["status"], inside["timingPeriod"]) == ("active", {"start": "2026-06-05"})
    builders.procedure(
        operation.injury,
        kind="implant_removal",
        revises=operation,
        performed_on=date(2026, 9, 1),
    )
    out = valid(devices.use(seen(fhir_rows.parts, row)))
    assert out["status"] == "completed"
    assert out["timingPeriod"] == {"start": "2026-06-05", "end": "2026-09-01"}


def test_after_a_revision_it_is_not_known_what_was_left(defaults: None) -> None:
    operation = builders.procedure()
    row = part(operation)
    later(operation, "revision_fixation")
    unknown = absent_here("unknown")
    after = valid(devices.use(seen(fhir_rows.parts, row)))
    assert "status" not in after
    assert after["_status"] == unknown
    assert after["timingPeriod"] == {"start": "2026-06-05", "_end": unknown}
    later(operation, "implant_removal", date(2026, 10, 1))
    out = valid(devices.use(seen(fhir_rows.parts, row)))
    assert (out["status"], out["timingPeriod"]["end"]) == ("completed", "2026-10-01")
    records.void(row, by=row.recorded_by, now=NOW, expected_version=1, reason="not used")
    gone = valid(devices.use(seen(fhir_rows.parts, row, voided=True)))
    assert (gone["status"], gone.get("_status")) == ("entered-in-error", None)


def test_a_voided_part_was_entered_in_error() -> None:
    row = part()
    records.void(row, by=row.recorded_by, now=NOW, expected_version=1, reason="not used")
    shown = seen(fhir_rows.parts, row, voided=True)
    assert valid(devices.device(shown, named=True))["status"] == "entered-in-error"
    assert valid(devices.use(shown))["status"] == "entered-in-error"


def test_who_issues_an_identifier_is_told_by_its_form() -> None:
    assert devices.issuer_of("09506000134352") == devices.GS1
    assert devices.issuer_of("A999PLATE1230") == devices.HIBC
    assert devices.issuer_of("") == ""
    assert devices.carriers("", "") == []
