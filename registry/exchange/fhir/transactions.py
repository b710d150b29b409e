"""A transaction that came: its entries read one by one, with all that is wrong told at once."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from urllib.parse import parse_qsl

from registry.exchange.fhir import arrivals, labelled, shapes
from registry.exchange.fhir.arrivals import Arrival, Number
from registry.rules.fhir.elements import Json
from registry.rules.fhir.outcomes import NUL, Issue, Refused, error, refused
from registry.rules.fhir.reading import Node, unbearable, unread

MOST_ENTRIES = 500
# In what order entries land: each stands on those before it.
ORDER = ("Patient", "Condition", "Procedure", "Device")
RESTFUL = re.compile(r"(https?://.+)/[A-Za-z]+/[A-Za-z0-9.-]{1,64}(?:/_history/[A-Za-z0-9.-]+)?")
CONDITIONAL = re.compile(r"^(?:[A-Za-z]+\?)?(identifier=.*)$")


@dataclass
class Entry:
    """One entry as it came. `wanted_version` is that of the resource that it is to replace."""

    path: str
    full_url: str
    kind: str
    updates: bool
    wanted_version: str
    came: Arrival
    warnings: list[Issue] = field(default_factory=list)


def read(bundle: Any, *, today: date) -> list[Entry]:
    """Read every entry of a transaction.

    Raises Refused with everything that is wrong, each with its FHIRPath.
    """
    entries = _entries(bundle)
    found: list[Entry] = []
    faults: list[Issue] = []
    for place, one in enumerate(entries):
        path = f"Bundle.entry[{place}]"
        entry, wrong = _entry(one, path, today)
        faults += wrong
        if entry is not None:
            found.append(entry)
    urls = [one.full_url for one in found if one.full_url]
    faults += [
        error("duplicate", f"'{url}' stands here more than once.", "Bundle.entry.fullUrl")
        for url in sorted({url for url in urls if urls.count(url) > 1})
    ]
    if faults:
        raise Refused(faults)
    return found


def resolved(entry: Entry, reference: str) -> str:
    """Return a reference as its entry means it: a relative one begins where the entry's own address does.

    What asks by a number, and what stands in an entry without such an address, stays as it is.
    References: HL7 FHIR R4, bundle.html#references.
    """
    own = RESTFUL.fullmatch(entry.full_url)
    relative = re.fullmatch(r"[A-Za-z]+/[^?#]+", reference)
    return f"{own.group(1)}/{reference}" if own and relative else reference


def number_of(condition: str) -> Number | None:
    """Read 'identifier=system|value', as a conditional request has it; None for anything else."""
    found = CONDITIONAL.match(condition)
    pairs = parse_qsl(found.group(1)) if found else []
    if len(pairs) != 1:
        return None
    system, bar, value = pairs[0][1].partition("|")
    return (system, value) if bar and system and value and NUL not in pairs[0][1] else None


def _entries(bundle: Any) -> Sequence[Json]:
    if not isinstance(bundle, dict) or bundle.get("resourceType") != "Bundle":
        raise refused("structure", "Send a Bundle of type transaction.", "Bundle")
    if bundle.get("type") != "transaction":
        told = f"This is a '{bundle.get('type')}'; only a transaction is taken in, all or nothing."
        raise refused("not-supported", told, "Bundle.type")
    entries = bundle.get("entry", [])
    if not isinstance(entries, list) or not all(isinstance(one, dict) for one in entries):
        raise refused("structure", "The entries are a list of objects.", "Bundle.entry")
    if len(entries) > MOST_ENTRIES:
        told = f"There are {len(entries)} entries; send at most {MOST_ENTRIES} at once."
        raise refused("too-costly", told, "Bundle.entry", status=413)
    return entries


def _entry(one: Json, path: str, today: date) -> tuple[Entry | None, list[Issue]]:
    resource, where = one.get("resource"), f"{path}.resource"
    if not isinstance(resource, dict):
        return None, [error("required", "An entry needs its resource.", where)]
    wrong = unbearable(resource, where) or shapes.faults(resource, where)
    if wrong:
        return None, wrong
    kind = resource["resourceType"]
    node = Node.of(resource, where)
    came = _came(kind, node, today)
    request, faults = _request(one.get("request"), kind, came, path)
    faults = [*node.issues, *faults]
    entry = Entry(
        path,
        str(one.get("fullUrl", "")),
        kind,
        request.get("method") == "PUT",
        str(request.get("ifMatch", "")).removeprefix("W/").strip('"'),
        came,
        unread(node),
    )
    return entry, faults


def _came(kind: str, node: Node, today: date) -> Arrival:
    if kind == "Patient":
        return arrivals.patient(node)
    if kind == "Condition":
        return arrivals.injury(node)
    if kind == "Procedure":
        return arrivals.operation(node)
    return labelled.part(node, today)


def _request(given: Any, kind: str, came: Arrival, path: str) -> tuple[Json, list[Issue]]:
    """Read how an entry is meant; a number in its condition is one of the resource's own."""
    where = f"{path}.request"
    if not isinstance(given, dict):
        return {}, [error("required", "Say the method and the url.", where)]
    method, url = given.get("method"), str(given.get("url", ""))
    condition = str(given.get("ifNoneExist", "")) if method == "POST" else url
    if method not in ("POST", "PUT"):
        told = f"'{method}' is not done in a transaction here; there are POST and PUT."
        return given, [error("not-supported", told, f"{where}.method")]
    if url.partition("?")[0] != kind:
        told = f"This is a {kind}: write '{kind}', or for PUT '{kind}?identifier=system|value'."
        return given, [error("value", told, f"{where}.url")]
    number = number_of(condition) if condition else None
    if (condition and number is None) or (method == "PUT" and number is None):
        told = "The condition is identifier=system|value and nothing else."
        name = "ifNoneExist" if method == "POST" else "url"
        return given, [error("value", told, f"{where}.{name}")]
    if number is not None and number not in came.numbers:
        told = "The number of the condition is not among the resource's own."
        return given, [error("value", told, where)]
    return given, []
