"""A FHIR transaction on its way in: what has landed, what fell, what it refers to, what is unusual."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from registry.errors import BadInput
from registry.exchange.fhir import terms, transactions
from registry.exchange.fhir.arrivals import Number
from registry.exchange.fhir.transactions import Entry
from registry.models.people import Person
from registry.models.sites import Site
from registry.rules import plausibility
from registry.rules.fhir.outcomes import Issue, error
from registry.selectors import fhir_known

# Where in a resource stands what a column was read from; what is not listed is told of the whole.
ELEMENTS: dict[str, dict[str, str]] = {
    "Patient": {
        "birth_date": "birthDate",
        "birth_earliest": "birthDate",
        "birth_latest": "birthDate",
        "identifier": "identifier",
        "family_name": "name[0].family",
        "given_name": "name[0].given",
        "sex": "gender",
        "phone": "telecom",
        "email": "telecom",
        "address": "address",
        "language": "communication",
        "status_on": "deceasedDateTime",
    },
    "Condition": {
        "injury_date": "onsetDateTime",
        "injured_earliest": "onsetDateTime",
        "injured_latest": "onsetDateTime",
        "age_years": "onsetDateTime",
        "kind": "code",
        "side": "bodySite",
    },
    "Procedure": {
        "performed_on": "performedDateTime",
        "days_from_injury": "performedDateTime",
        "kind": "code",
        "revises": "partOf",
        "note": "note",
        "surgeon": "performer",
        "construct_type": "usedCode",
    },
    "Device": {
        "kind": "type",
        "description": "deviceName",
        "batch": "lotNumber",
        "serial": "serialNumber",
        "expires_on": "expirationDate",
        "catalogue_number": "partNumber",
        "device_identifier": "udiCarrier",
        "raw_identifier": "udiCarrier",
        "quantity": "extension",
    },
}


@dataclass
class Landed:
    """What became of one entry: the row that it is, and whether it is new or was corrected."""

    entry: Entry
    row: Any
    created: bool = False
    corrected: bool = False


@dataclass
class Landing:
    """One transaction on its way in: who, when and where, what has landed, and what is wrong.

    `base` is the address of this server, by which references lead to what is here.
    """

    by: Person
    now: datetime
    today: date
    site: Site
    base: str = ""
    landed: dict[int, Landed] = field(default_factory=dict)
    by_url: dict[str, Landed] = field(default_factory=dict)
    # Entries that did not land; what stands on them is not told to be wrong as well.
    fallen: set[str] = field(default_factory=set)
    operation_of: dict[str, Landed] = field(default_factory=dict)
    issues: list[Issue] = field(default_factory=list)

    def wrong(self, entry: Entry, code: str, words: str, below: str = "") -> None:
        """Note what is wrong with an entry."""
        path = f"{entry.path}.resource"
        self.issues.append(error(code, words, f"{path}.{below}" if below else path))


class Stands(Exception):
    """An entry refers to one that did not land."""


def refers(landing: Landing, entry: Entry, reference: str, kind: str, element: str) -> Any:
    """Return the row that a reference leads to, in the transaction or already here."""
    if not reference:
        landing.wrong(entry, "required", f"Name the {kind}.", element)
        raise Stands
    meant = transactions.resolved(entry, reference)
    inside = landing.by_url.get(meant)
    if inside is not None and inside.entry.kind == kind:
        return inside.row
    if meant in landing.fallen:
        raise Stands
    # What is left of an address of another server is one, and leads to nothing of ours.
    here = meant.removeprefix(f"{landing.base}/") if landing.base else meant
    number: Number | None = None
    if reference.startswith(f"{kind}?"):
        number = transactions.number_of(reference)
    if number is not None and kind == "Patient":
        (number,) = as_the_site_says(landing.site, [number])
    row = fhir_known.referred(landing.by, landing.site, kind, here, number)
    if row is None:
        told = f"'{reference}' leads to no {kind} of this transaction or of yours."
        landing.wrong(entry, "not-found", told, element)
        raise Stands
    return row


def as_the_site_says(site: Site, numbers: Sequence[Number]) -> list[Number]:
    """Return patients' numbers with the issuer as the site calls it."""
    return [(terms.issuing_system(site.code, system), value) for system, value in numbers]


def flags_of(values: Mapping[str, Any], *, checked: bool) -> list[str]:
    """Return which values are unusual; those that nobody has looked at are refused.

    Raises BadInput.
    """
    flags, faults = [], {}
    for finding in plausibility.judge(values):
        if finding.impossible:
            faults[finding.field] = finding.message
        elif not checked:
            faults[finding.field] = f"{finding.message}; mark it 'checked' in meta.tag to keep it"
        else:
            flags.append(finding.field)
    if faults:
        raise BadInput(faults)
    return flags
