"""What must hold between rows: references lead somewhere, and parent and child are of one site."""

from collections.abc import Iterator
from typing import Any

from django.db.models import Exists, F, Field, Model, OuterRef

from registry.models.injuries import Injury
from registry.models.patients import Patient, PatientSite
from registry.models.procedures import Procedure
from registry.models.safety_notices import CarrierStep, NoticeCarrier
from registry.models.sites import Site
from registry.services.invariants import (
    Breach,
    Invariant,
    Looking,
    asked,
    broken_by,
    room_models,
)

# A patient is treated at several sites and belongs to none.
OF_NO_SITE = (Patient, Site)


def _orphans(looking: Looking) -> Iterator[Breach]:
    for model in room_models():
        for field in _links(model):
            yield from _leading_nowhere(model, field)


def _links(model: type[Model]) -> "list[Field[Any, Any]]":
    return [field for field in model._meta.concrete_fields if field.is_relation]


def _leading_nowhere(model: type[Model], field: "Field[Any, Any]") -> Iterator[Breach]:
    table, key = model._meta.db_table, model._meta.pk.column
    target: Any = field.related_model
    aim = field.target_field.column  # type: ignore[attr-defined]
    query = f"""
        SELECT t."{key}", t."{field.column}" FROM "{table}" t WHERE t."{field.column}" IS NOT NULL
        AND NOT EXISTS (SELECT 1 FROM "{target._meta.db_table}" o WHERE o."{aim}" = t."{field.column}")
    """
    for row, led in asked(query):
        what = f"its {field.column} leads to {target._meta.db_table} {led}, which is not there"
        yield Breach(f"{table} {row}", what)


def _sites(looking: Looking) -> Iterator[Breach]:
    for model in room_models():
        if not _has_site(model):
            continue
        for field in _links(model):
            parent: Any = field.related_model
            if parent in OF_NO_SITE or not _has_site(parent):
                continue
            rows = model._base_manager.filter(**{f"{field.name}__isnull": False})
            other = rows.exclude(**{f"{field.name}__site": F("site")})
            yield from broken_by(other, f"it is of another site than its {field.name}")


def _has_site(model: type[Model]) -> bool:
    return any(
        field.name == "site" and field.related_model is Site and not field.null
        for field in model._meta.concrete_fields
    )


def _known_at_site(looking: Looking) -> Iterator[Breach]:
    here = PatientSite.objects.filter(patient=OuterRef("patient"), site=OuterRef("site"))
    yield from broken_by(
        Injury.objects.filter(~Exists(here)), "its patient is not among those of its site"
    )


def _revisions(looking: Looking) -> Iterator[Breach]:
    later = Procedure.objects.filter(revises__isnull=False)
    yield from broken_by(
        later.exclude(revises__injury=F("injury")), "it revises an operation of another injury"
    )
    yield from broken_by(
        later.filter(revises__voided_at__isnull=False), "it revises an operation that is void"
    )


def _carriers(looking: Looking) -> Iterator[Breach]:
    newest = CarrierStep.objects.filter(carrier=OuterRef("pk")).order_by("-pk")
    rows = NoticeCarrier.everything.annotate(last=newest.values("state")[:1])
    yield from broken_by(
        rows.filter(last__isnull=True), "nothing says how it came to be in its state"
    )
    yield from broken_by(
        rows.exclude(last=F("state")).filter(last__isnull=False, voided_at__isnull=True),
        "its state is not that of its last step",
    )


INVARIANTS = (
    Invariant("references", "Each reference leads to a row that is there.", _orphans),
    Invariant("sites", "Parent and child rows are of one site.", _sites),
    Invariant("patients_at_sites", "Each injury's patient is known at its site.", _known_at_site),
    Invariant("revisions", "An operation revises one of its own injury.", _revisions),
    Invariant("carriers", "What became of a carrier is what its last step says.", _carriers),
)
