"""Which watched tables hang on a patient, and which of their rows are one patient's, of every room.

The way from a row to its patient is found by walking the links of the models, so that a new table is
among them without a line here.
"""

from collections.abc import Collection
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.apps import apps
from django.db.models import CharField, Model, Q, QuerySet, Value
from django.db.models.functions import Cast

from registry.models.audit import AuditEntry
from registry.models.patients import Patient

AnyModel = type[Model]
Rows = dict[str, set[str]]


@dataclass(frozen=True)
class PatientTable:
    """A watched table, the ways from a row to the patient, and the way to the site that it is of.

    `to_site` is '' for what is of no one site, such as names: that is shared by all who see the patient.
    """

    model: AnyModel
    to_patient: tuple[str, ...]
    to_site: str

    @property
    def name(self) -> str:
        """The table as the trail calls it."""
        return self.model._meta.db_table


def patient_tables() -> list[PatientTable]:
    """Return every watched table that hangs on a patient, the patients' own first."""
    watched = [model for model in apps.get_models() if getattr(model, "audited", False)]
    found = [
        PatientTable(model, ways, _to_site(model, ways))
        for model in watched
        if model is not Patient and (ways := _ways(model, ()))
    ]
    return [PatientTable(Patient, ("pk",), ""), *found]


@cache
def table_of(model: AnyModel) -> PatientTable | None:
    """Return how a table hangs on a patient; None where it does not."""
    return next((table for table in patient_tables() if table.model is model), None)


def rows_of(patient: Patient, sites: Collection[int]) -> Rows:
    """Return the numbers of a patient's rows by table, of some sites and those of none; in two queries.

    Voided rows are among them, and those that were removed: of these the trail knows whose they were.
    """
    tables = patient_tables()
    some: list[QuerySet[Any]] = [_keys(table, patient, sites) for table in tables]
    found: Rows = {}
    for table, key in some[0].union(*some[1:], all=True):
        found.setdefault(table, set()).add(key)
    for table, key in _removed(tables, found):
        found.setdefault(table, set()).add(key)
    return found


def _keys(table: PatientTable, patient: Patient, sites: Collection[int]) -> QuerySet[Any]:
    theirs = Q()
    for way in table.to_patient:
        theirs |= Q(**{way: patient.pk})
    here = Q(**{f"{table.to_site}__in": sites}) if table.to_site else Q()
    rows = table.model._base_manager.filter(theirs & here).order_by()
    return rows.values_list(
        Value(table.name, output_field=CharField()), Cast("pk", CharField())
    ).distinct()


def _removed(tables: list[PatientTable], found: Rows) -> QuerySet[Any]:
    """Return table and number of what was removed from under the patient or a row of theirs."""
    gone = Q(pk__in=[])
    for table in tables:
        for way in table.to_patient:
            link = table.model._meta.get_field(way.split("__")[0]) if way != "pk" else None
            if link is None:
                continue
            above = found.get(link.related_model._meta.db_table, set())  # type: ignore[union-attr]
            column = f"before__{link.column}__in"  # type: ignore[union-attr]
            gone |= Q(table=table.name, **{column: [int(key) for key in above]})
    return AuditEntry.objects.filter(gone, action="delete").values_list("table", "row_id")


def _ways(model: AnyModel, seen: tuple[AnyModel, ...]) -> tuple[str, ...]:
    """Return the shortest ways from a row to patients: its own links, else the first that is always there."""
    links = [one for one in model._meta.concrete_fields if one.is_relation]
    own = tuple(one.name for one in links if one.related_model is Patient)
    if own:
        return own
    further: list[tuple[bool, str]] = []
    for link in links:
        target: Any = link.related_model
        if target is model or target in seen or not getattr(target, "audited", False):
            continue
        ways = _ways(target, (*seen, model))
        further += [(link.null, f"{link.name}__{way}") for way in ways]
    certain = [way for null, way in further if not null]
    return tuple(certain[:1]) if certain else tuple(way for _, way in further)


def _to_site(model: AnyModel, ways: tuple[str, ...]) -> str:
    """Return the way to the nearest site on the way to the patient, whose own does not count."""
    here: AnyModel = model
    for gone, step in enumerate(ways[0].split("__")):
        if here is Patient:
            break
        if any(one.name == "site" for one in here._meta.concrete_fields):
            return "__".join([*ways[0].split("__")[:gone], "site"])
        here = here._meta.get_field(step).related_model  # type: ignore[assignment]
    return ""
