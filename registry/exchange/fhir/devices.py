"""An implanted part as a FHIR Device, and its time in the body as a DeviceUseStatement."""

import base64
from typing import Any

from registry.exchange.fhir import terms
from registry.exchange.fhir.injuries import body_site, foreign_numbers
from registry.models.procedures import ProcedureKind
from registry.rules.fhir.elements import Json, absent_here, compact, concept, reference
from registry.rules.fhir.moments import instant

GS1 = "http://hl7.org/fhir/NamingSystem/gs1"
HIBC = "http://hl7.org/fhir/NamingSystem/hibcc"


def device(row: Any, *, named: bool) -> Json:
    """Return a part: its article, batch, serial and expiry, and its label as it was scanned."""
    article = row.implant_model
    many = [{"url": terms.extension("quantity"), "valueInteger": row.quantity}]
    not_had = {"_lotNumber": absent_here("unknown")} if row.batch_not_obtainable else {}
    return compact(
        {
            **terms.head("Device", row.pk, row),
            "extension": many if row.quantity != 1 else [],
            "identifier": foreign_numbers(row) if named else [],
            "udiCarrier": carriers(article.device_identifier, row.raw_identifier),
            "status": "active" if row.voided_at is None else "entered-in-error",
            "manufactureDate": row.made_on.isoformat() if row.made_on else None,
            "expirationDate": row.expires_on.isoformat() if row.expires_on else None,
            "lotNumber": row.batch,
            **not_had,
            "serialNumber": row.serial,
            "deviceName": [{"name": article.description, "type": "user-friendly-name"}],
            "partNumber": article.catalogue_number,
            "type": concept(
                terms.local("part-kind", article.kind), text=article.get_kind_display()
            ),
            "patient": reference("Patient", row.construct.procedure.injury.patient.key),
        }
    )


def use(row: Any) -> Json:
    """Return the time in which a part is in the body: until a removal of its operation's hardware.

    After a revision nobody recorded what was left in, so that neither status nor end is known; R4 has
    no such status, and the reason stands in its place.
    """
    operation = row.construct.procedure
    removals = [one for one in operation.later if one.kind == ProcedureKind.IMPLANT_REMOVAL]
    removed = min((one.performed_on for one in removals), default=None)
    is_known = removed is not None or not operation.later
    standing: Json = {"status": "active" if removed is None else "completed"}
    if row.voided_at is not None:
        standing = {"status": "entered-in-error"}
    elif not is_known:
        standing = {"_status": absent_here("unknown")}
    return compact(
        {
            **terms.head("DeviceUseStatement", row.pk, row),
            **standing,
            "subject": reference("Patient", operation.injury.patient.key),
            "derivedFrom": [reference("Procedure", operation.pk)],
            "timingPeriod": compact(
                {
                    "start": operation.performed_on.isoformat(),
                    "end": removed.isoformat() if removed else None,
                    "_end": {} if is_known else absent_here("unknown"),
                }
            ),
            "recordedOn": instant(row.recorded_at),
            "device": reference("Device", row.pk),
            "reasonReference": [reference("Condition", operation.injury_id)],
            "bodySite": body_site(operation.injury.side),
        }
    )


def carriers(device_identifier: str, scanned: str) -> list[Json]:
    """Return the label: its device identifier with who issues such, and its text as it was scanned.

    What is not printable text goes out in base64, as a machine reads it.
    """
    if not device_identifier and not scanned:
        return []
    printed = scanned if scanned.isprintable() else ""
    raw = base64.b64encode(scanned.encode()).decode() if scanned and not printed else ""
    return [
        compact(
            {
                "deviceIdentifier": device_identifier,
                "issuer": issuer_of(device_identifier),
                "carrierAIDC": raw,
                "carrierHRF": printed,
                "entryType": "barcode" if scanned else "manual",
            }
        )
    ]


def issuer_of(device_identifier: str) -> str:
    """Say who issues identifiers of this form: fourteen digits are GS1's, what has letters HIBC's."""
    if not device_identifier:
        return ""
    return GS1 if device_identifier.isdigit() and len(device_identifier) == 14 else HIBC
