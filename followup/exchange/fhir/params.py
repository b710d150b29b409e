"""Search parameters as conditions of the database: tokens, references, dates and names."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Q

from registry.exchange.fhir import terms
from registry.models.sites import Site
from registry.rules.fhir import moments
from registry.rules.fhir.outcomes import refused
from registry.rules.fhir.queries import DATE, REFERENCE, STRING, TOKEN, token
from registry.selectors import fhir_rows
from registry.selectors.fhir_rows import Seer

# What of nothing is: a source that a value excludes is not asked at all.
NOTHING = None
Condition = Callable[[str, Seer, datetime], "Q | None"]


@dataclass(frozen=True)
class Param:
    """One parameter of a source: its type and how a value becomes a condition.

    The condition is None where no row of the source can meet it.
    """

    kind: str
    condition: Condition


def matching_token(codes: Mapping[tuple[str, str], Q | None]) -> Param:
    """Return a token of fixed codes: (system, code) -> the rows that have it, None for all."""

    def condition(value: str, seer: Seer, now: datetime) -> Q | None:
        system, code = token(value)
        met = [
            rows
            for (of, one), rows in codes.items()
            if (system is None or of == system) and code in ("", one)
        ]
        if not met:
            return NOTHING
        if any(rows is None for rows in met):
            return Q()
        found = Q()
        for rows in met:
            found |= rows if rows is not None else Q()
        return found

    return Param(TOKEN, condition)


def column_token(field: str, system: str, **ours: str) -> Param:
    """Return a token of a column whose values are codes of one of our systems.

    `ours` are codes of FHIR for values of ours that have another name there.
    """

    def condition(value: str, seer: Seer, now: datetime) -> Q | None:
        of, code = token(value)
        if of not in (None, terms.system(system)):
            return NOTHING
        return Q(**{field: ours.get(code, code)}) if code else Q()

    return Param(TOKEN, condition)


def patient(path: str) -> Param:
    """Return a reference to a patient by key; `path` leads to the key."""

    def condition(value: str, seer: Seer, now: datetime) -> Q | None:
        kind, _, key = value.rpartition("/")
        if kind and not kind.endswith("Patient"):
            return NOTHING
        return Q(**{path: key})

    return Param(REFERENCE, condition)


def link(path: str, kind: str) -> Param:
    """Return a reference to another resource by its number; `path` leads to the number."""

    def condition(value: str, seer: Seer, now: datetime) -> Q | None:
        of, _, key = value.rpartition("/")
        if (of and not of.endswith(kind)) or not (key.isascii() and key.isdigit()):
            return NOTHING
        return Q(**{path: int(key[:18])})

    return Param(REFERENCE, condition)


def days(earliest: str, latest: str = "") -> Param:
    """Return a date whose column is a day, or the first and the last day that it can be."""
    first, last = earliest, latest or earliest

    def condition(value: str, seer: Seer, now: datetime) -> Q | None:
        given = asked(value, now)
        bounds = given.days
        return compared(given.prefix, first, last, bounds.earliest, bounds.latest)

    return Param(DATE, condition)


def moment(field: str) -> Param:
    """Return a date whose column is an instant."""

    def condition(value: str, seer: Seer, now: datetime) -> Q | None:
        given = asked(value, now)
        return compared(given.prefix, field, field, given.first, given.last)

    return Param(DATE, condition)


def asked(value: str, now: datetime) -> moments.Asked:
    """Read a date of a query.

    Raises Refused.
    """
    try:
        given = moments.asked(value)
    except ValueError as fault:
        raise refused("value", str(fault)) from fault
    return moments.about(given, now) if given.prefix == "ap" else given


def compared(prefix: str, first: str, last: str, low: Any, high: Any) -> Q:
    """Compare the span of two columns with the span of a value, as R4 says of each prefix."""
    inside = Q(**{f"{first}__gte": low, f"{last}__lte": high})
    later, earlier = Q(**{f"{last}__gt": high}), Q(**{f"{first}__lt": low})
    met = (
        *(inside, ~inside, later, earlier, later | inside, earlier | inside),
        *(Q(**{f"{first}__gt": high}), Q(**{f"{last}__lt": low})),
        Q(**{f"{first}__lte": high, f"{last}__gte": low}),
    )
    return dict(zip(moments.PREFIXES, met, strict=True))[prefix]


def number_of(kind: str) -> Param:
    """Return the number by which another system knows an injury, operation or part."""

    def condition(value: str, seer: Seer, now: datetime) -> Q | None:
        system, code = token(value)
        sites = tuple(sorted(seer.names))
        return Q(pk__in=fhir_rows.numbered(sites, kind, system, code))

    return Param(TOKEN, condition)


def patient_number() -> Param:
    """Return a patient's key, or a number at a site where the person sees names."""

    def condition(value: str, seer: Seer, now: datetime) -> Q | None:
        system, code = token(value)
        key = Q(key=code)
        if system == terms.canonical(terms.IDENTIFIER, "key"):
            return key
        systems = None
        if system is not None:
            sites = Site.objects.filter(pk__in=seer.names).values_list("pk", "code")
            systems = {pk: terms.issuing_system(code_of, system) for pk, code_of in sites}
        found = Q(pk__in=fhir_rows.with_number(seer, systems, code))
        return found | key if system is None else found

    return Param(TOKEN, condition)


def name(*fields: str) -> Param:
    """Return the beginning of a name; only of patients whose names the person sees."""

    def condition(value: str, seer: Seer, now: datetime) -> Q | None:
        found = Q()
        for field in fields:
            found |= Q(**{f"identity__{field}__istartswith": value})
        return found & named(seer)

    return Param(STRING, condition)


def of_identity(inner: Param) -> Param:
    """Return a parameter of what is said of named patients only."""

    def condition(value: str, seer: Seer, now: datetime) -> Q | None:
        met = inner.condition(value, seer, now)
        return NOTHING if met is None else met & named(seer)

    return Param(inner.kind, condition)


def named(seer: Seer) -> Q:
    """Return the patients whose names a person sees."""
    return Q(pk__in=fhir_rows.named_patients(seer))
