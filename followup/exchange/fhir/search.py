"""One resource by its id, and pages of resources by a query, as one person sees them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db.models import Q, QuerySet

from followup.exchange.fhir import params
from followup.exchange.fhir.code_systems import code_systems
from followup.exchange.fhir.kinds import Kind
from followup.exchange.fhir.sources import Source
from registry.exchange.fhir import patients
from registry.models.patients import Patient
from registry.rules.fhir.elements import Json
from registry.rules.fhir.outcomes import Refused, error, outcome, refused
from registry.rules.fhir.queries import Query, next_cursor
from registry.selectors import fhir_rows
from registry.selectors.fhir_rows import Seer

COMMON = {"_id": "token", "_lastUpdated": "date"}
CODE_SYSTEM = "CodeSystem"
CODE_SYSTEM_PARAMS = {"_id": "token", "url": "uri"}
NOT_THERE = "There is no such {kind}, or it is not yours to see."


@dataclass(frozen=True)
class Page:
    """What a search found: one page, how many in all, where the next begins, who was named."""

    resources: Sequence[Json]
    total: int | None = None
    onward: str = ""
    named: Sequence[Patient] = field(default=())


def known_params(kind: Kind) -> dict[str, str]:
    """Return every parameter that a type is searched by, with its type."""
    return {**COMMON, **kind.params}


def find(kind: Kind, query: Query, seer: Seer, now: datetime) -> Page:
    """Return one page of what a query finds; sources are gone through in their order.

    Raises Refused for a value that cannot be read.
    """
    asked = [(place, _rows(one, query, seer, now)) for place, one in enumerate(kind.sources)]
    wanted = [(place, rows) for place, rows in asked if rows is not None]
    total = None
    if query.only_count or (query.totalled and query.first_page):
        total = sum(rows.order_by().count() for _, rows in wanted)
    if query.only_count:
        return Page((), total)
    found, onward = _page(wanted, query)
    resources = [kind.sources[place].write(row, seer) for place, row in found]
    return Page(resources, total, onward, [row for _, row in found if _is_named(row)])


def read(kind: Kind, key: str, seer: Seer) -> tuple[Json, Sequence[Patient]]:
    """Return one resource, and the patient whom it names; what was voided says so.

    Raises Refused (404) for what is not there or not theirs, (410) for what has no status to say that
    it was entered in error.
    """
    for source in kind.sources:
        condition = _by_id(source, key)
        if condition is None:
            continue
        row = source.seen(seer, voided=True).filter(condition).first()
        if row is not None:
            return _readable(kind, source, row, seer)
    if kind.name == "Patient":
        merged = fhir_rows.merged_patient(seer, key)
        if merged is not None:
            return patients.merged(merged), ()
    raise refused("not-found", NOT_THERE.format(kind=kind.name), status=404)


def streamed(
    kind: Kind, source: Source, seer: Seer, since: datetime | None, size: int
) -> Iterator[list[Json]]:
    """Yield all resources of a source in lists of a bounded size; with `since`, what changed from then.

    What was voided since is among them, as entered in error, where the type can say so. Of a row that
    cannot be written there is an OperationOutcome.
    """
    rows = source.seen(seer, voided=since is not None and not kind.gone)
    if since is not None:
        rows = rows.filter(updated__gte=since)
    last = 0
    while True:
        chunk = list(rows.filter(pk__gt=last).order_by("pk")[:size])
        if not chunk:
            return
        yield [_written(kind, source, row, seer) for row in chunk]
        last = chunk[-1].pk


def _written(kind: Kind, source: Source, row: Any, seer: Seer) -> Json:
    """Return the resource of a row, or an outcome that says that it could not be written."""
    try:
        return source.write(row, seer)
    except Exception as fault:  # noqa: BLE001 - one row is no reason to give up all others
        key = f"{source.prefix}-{row.pk}" if source.prefix else row.pk
        told = f"{kind.name} {key} could not be written: {type(fault).__name__}."
        return outcome([error("exception", told)])


def find_code_systems(query: Query) -> Page:
    """Return our own code systems, all on one page."""
    found = list(code_systems())
    for given in query.given:
        name = "id" if given.name == "_id" else "url"
        found = [one for one in found if one[name] in given.values]
    return Page(() if query.only_count else found, len(found))


def read_code_system(key: str) -> Json:
    """Return one code system of ours.

    Raises Refused (404).
    """
    for one in code_systems():
        if one["id"] == key:
            return one
    raise refused("not-found", NOT_THERE.format(kind=CODE_SYSTEM), status=404)


def _readable(kind: Kind, source: Source, row: Any, seer: Seer) -> tuple[Json, Sequence[Patient]]:
    if kind.gone and getattr(row, "voided_at", None) is not None:
        raise Refused(refused("deleted", "It was entered in error and is gone.").issues, 410)
    return source.write(row, seer), [row] if _is_named(row) else []


def _rows(source: Source, query: Query, seer: Seer, now: datetime) -> "QuerySet[Any] | None":
    met = Q()
    for given in query.given:
        one = _condition(source, given.name, given.values, seer, now)
        if one is None:
            return None
        met &= one
    return source.seen(seer).filter(met)


def _condition(
    source: Source, name: str, values: Sequence[str], seer: Seer, now: datetime
) -> Q | None:
    found: Q | None = None
    for value in values:
        if name == "_id":
            one = _by_id(source, value)
        elif name == "_lastUpdated":
            one = params.moment("updated").condition(value, seer, now)
        elif name in source.params:
            one = source.params[name].condition(value, seer, now)
        else:
            one = None
        if one is not None:
            found = one if found is None else found | one
    return found


def _by_id(source: Source, key: str) -> Q | None:
    if source.lookup != "pk":
        return Q(**{source.lookup: key})
    prefix, dash, number = key.rpartition("-")
    own = number if source.prefix else key
    if source.prefix and (not dash or prefix != source.prefix):
        return None
    return Q(pk=int(own)) if own.isascii() and own.isdigit() and len(own) <= 18 else None


def _page(
    wanted: Sequence[tuple[int, "QuerySet[Any]"]], query: Query
) -> tuple[list[tuple[int, Any]], str]:
    """Return so many rows from the cursor on, each with the place of its source, and the next cursor."""
    begin, last = query.cursor
    found: list[tuple[int, Any]] = []
    for place, rows in wanted:
        if place < begin:
            continue
        after = last if place == begin else 0
        room = query.count + 1 - len(found)
        found += [(place, row) for row in rows.filter(pk__gt=after).order_by("pk")[:room]]
        if len(found) > query.count:
            kept = found[: query.count]
            return kept, next_cursor(kept[-1][0], kept[-1][1].pk)
    return found, ""


def _is_named(row: Any) -> bool:
    return isinstance(row, Patient) and bool(getattr(row, "named_at", ())) and _has_names(row)


def _has_names(row: Patient) -> bool:
    return getattr(row, "identity", None) is not None
