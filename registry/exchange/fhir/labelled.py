"""A part out of a Device that came: its article, and its label, whose two texts have to agree."""

import base64
import binascii
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from registry.exchange.fhir.arrivals import Arrival, common, dated, extensions, one_code
from registry.rules import udi
from registry.rules.fhir.elements import absent_code
from registry.rules.fhir.reading import Node
from registry.rules.labels import Label, LabelRefused, plain_identifier

# What of a label is compared with what else is said of the part: column -> words.
SAID = {
    "device_identifier": "device identifier",
    "batch": "batch",
    "serial": "serial number",
    "expires_on": "expiry",
}
NAMES = ("user-friendly-name", "udi-label-name", "model-name", "other")
ELEMENT_OF = {
    "batch": "lotNumber",
    "serial": "serialNumber",
    "expires_on": "expirationDate",
    "made_on": "manufactureDate",
}


@dataclass
class PartCame(Arrival):
    """A part; `values` are those of a part as it is typed."""

    subject: str = ""
    values: dict[str, Any] = field(default_factory=dict)


def part(node: Node, today: date) -> PartCame:
    """Read a Device."""
    came = PartCame(**common(node))
    came.subject = node.child("patient").text("reference")
    values: dict[str, Any] = {
        "kind": one_code(node.child("type"), "part-kind"),
        "description": _description(node),
        "catalogue_number": node.text("partNumber"),
        "batch": node.text("lotNumber"),
        "serial": node.text("serialNumber"),
    }
    for column in ("expires_on", "made_on"):
        day = dated(node, ELEMENT_OF[column], exact=True)
        values[column] = day.earliest if day is not None else None
    if absent_code(node.child("_lotNumber").value):
        node.child("_lotNumber").read()
        values["batch_not_obtainable"] = True
    for one in extensions(node, "quantity"):
        values["quantity"] = one.child("valueInteger").read()
    status = node.text("status")
    if status not in ("", "active"):
        node.wrong("value", "Only parts that were put in are recorded: 'active'.", "status")
    _labelled(node, values, today, checked=came.checked)
    came.values = {name: value for name, value in values.items() if value not in (None, "")}
    return came


def disagreements(one: Label, other: Label) -> list[str]:
    """Say in which respects two readings of a label differ; what only one of them says does not."""
    found = []
    for column, words in SAID.items():
        here, there = getattr(one, column), getattr(other, column)
        if here and there and here != there:
            found.append(f"{words} {here} and {there}")
    return found


def _labelled(node: Node, values: dict[str, Any], today: date, *, checked: bool) -> None:
    carrier = node.child("udiCarrier", 0)
    if not carrier:
        return
    carrier.child("entryType").read()
    printed, machine = carrier.text("carrierHRF"), _machine(carrier)
    labels = [
        label
        for text, name in ((machine, "carrierAIDC"), (printed, "carrierHRF"))
        if (label := _read(carrier, text, name, today, checked=checked)) is not None
    ]
    identifier = carrier.text("deviceIdentifier")
    if identifier and not carrier.text("issuer"):
        carrier.wrong("required", "Say who issues this identifier.", "issuer")
    if len(labels) == 2 and (differing := disagreements(*labels)):
        told = (
            f"The machine's text and the printed text are of two labels: {'; '.join(differing)}. "
            "Scan the label again."
        )
        carrier.wrong("conflict", told, "carrierHRF")
        return
    values["raw_identifier"] = machine or printed
    for label in labels:
        _fill(node, values, label)
    _same_identifier(carrier, values, identifier, labels)


def _same_identifier(
    carrier: Node, values: dict[str, Any], identifier: str, labels: list[Label]
) -> None:
    on_label = next((one.device_identifier for one in labels if one.device_identifier), "")
    if identifier and on_label and identifier != on_label:
        told = f"The label says {on_label}, and this {identifier}."
        carrier.wrong("conflict", told, "deviceIdentifier")
    try:
        values["device_identifier"] = plain_identifier(identifier or on_label)
    except LabelRefused as fault:
        carrier.wrong("value", str(fault), "deviceIdentifier")


def _fill(node: Node, values: dict[str, Any], label: Label) -> None:
    """Take from a label what is not said beside it; what is said has to agree."""
    for column, element in ELEMENT_OF.items():
        on_label, said = getattr(label, column), values.get(column)
        if on_label and said and on_label != said:
            told = f"The label says {on_label}, and this {said}."
            node.wrong("conflict", told, element)
        elif on_label and not said:
            values[column] = on_label
    if label.others:
        values["other_identifiers"] = dict(label.others)
    if label.catalogue_number and not values["catalogue_number"]:
        values["catalogue_number"] = label.catalogue_number


def _read(carrier: Node, text: str, name: str, today: date, *, checked: bool) -> Label | None:
    if not text:
        return None
    try:
        label = udi.read_part(text, today=today)
    except LabelRefused as fault:
        carrier.wrong("value", str(fault), name)
        return None
    if label.doubts and not checked:
        carrier.wrong("business-rule", " ".join(label.doubts), name)
    return label


def _machine(carrier: Node) -> str:
    """Return the text of a barcode out of its base64."""
    written = carrier.text("carrierAIDC")
    if not written:
        return ""
    try:
        return base64.b64decode(written, validate=True).decode()
    except (binascii.Error, ValueError) as fault:
        carrier.wrong("value", f"This is not a text in base64: {fault}.", "carrierAIDC")
        return ""


def _description(node: Node) -> str:
    for wanted in NAMES:
        for one in node.each("deviceName"):
            if one.value.get("type") == wanted:
                one.child("type").read()
                return one.text("name")
    told = "Say in generic words what it is, as a deviceName of type user-friendly-name."
    node.wrong("required", told, "deviceName")
    return ""
