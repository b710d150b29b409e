"""Rows as FHIR reads them: seen by one person, with what each needs, and when any part last changed."""

from dataclasses import dataclass
from typing import Any

from django.db.models import (
    Case,
    CharField,
    DateTimeField,
    Exists,
    F,
    Model,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Subquery,
    When,
)
from django.db.models.functions import Cast, Coalesce, Greatest

from registry.models.audit import AuditEntry
from registry.models.base import ClinicalRow
from registry.models.constructs import Construct, Part
from registry.models.foreign_numbers import ForeignNumber
from registry.models.identities import Identifier, Identity
from registry.models.implants import ImplantModel
from registry.models.imports import ImportBatch
from registry.models.injuries import Classification, Injury
from registry.models.merges import PatientMerge
from registry.models.patients import Patient, PatientSite
from registry.models.procedures import Procedure, ProcedureKind
from registry.selectors import choices
from registry.selectors.visible import Viewer, rows_at, site_ids

# Who sees patients sees facts; who may take data away sees them by key.
CLINICAL = ("see_patient", "take_data")
PERSONAL = ("see_patient",)
FILMS = ("see_patient", "take_data", "see_films")


@dataclass(frozen=True)
class Seer:
    """Somebody who reads, and at which sites: facts, what a patient is told or asked, names.

    `own_films` are the sites where only films and one's own readings are seen besides. `taking` is for
    a copy that is taken away, which holds what may be taken and no more.
    """

    user: Viewer
    facts: tuple[int, ...]
    personal: tuple[int, ...]
    names: frozenset[int]
    own_films: tuple[int, ...] = ()
    taking: bool = False


def reader(user: Viewer) -> Seer:
    """Return somebody as they look at single resources and searches."""
    facts = {site for action in CLINICAL for site in site_ids(user, action)}
    return Seer(
        user,
        tuple(sorted(facts)),
        tuple(site_ids(user, "see_patient")),
        frozenset(site_ids(user, "see_identity")),
        tuple(sorted(set(site_ids(user, "see_films")) - facts)),
    )


def taker(user: Viewer) -> Seer:
    """Return somebody as they take a copy away: `take_data`, with names where they see those too."""
    taken = set(site_ids(user, "take_data"))
    return Seer(
        user,
        tuple(sorted(taken)),
        tuple(sorted(taken & set(site_ids(user, "see_patient")))),
        frozenset(taken & set(site_ids(user, "see_identity"))),
        taking=True,
    )


def chosen(rows: QuerySet[Any], seer: Seer) -> QuerySet[Any]:
    """Leave out what patients do not let be used, but where the person looks after them.

    A copy that is taken away is a use wherever it is from.
    """
    if seer.taking:
        return choices.usable(rows)
    if set(seer.facts) <= set(seer.personal):
        return rows
    here = PatientSite.objects.filter(site_id__in=seer.personal).values("patient_id")
    cared = (
        Q(pk__in=here)
        if rows.model is Patient
        else Q(site_id__in=(*seer.personal, *seer.own_films))
    )
    return choices.usable(rows, cared)


def patients(seer: Seer, *, voided: bool = False) -> QuerySet[Any]:
    """Return patients with their identity and the numbers that the person may see."""
    given = Identifier.objects.filter(patient=OuterRef("pk")).annotate(
        at=_by_trail(Identifier, "pk")
    )
    parted = PatientMerge.objects.filter(kept=OuterRef("pk"))
    beside = (
        _by_trail(Identity, "identity__pk"),
        Subquery(given.order_by(F("at").desc(nulls_last=True)).values("at")[:1]),
        Subquery(parted.order_by(F("undone_at").desc(nulls_last=True)).values("undone_at")[:1]),
    )
    numbers = rows_at(Identifier, sorted(seer.names)).select_related("site").order_by("pk")
    here = PatientSite.objects.filter(site_id__in=seer.names)
    found: QuerySet[Any] = (
        rows_at(Patient, list(seer.facts), voided=voided)
        .annotate(
            updated=Greatest(moment(Patient), *(Coalesce(one, "changed_at") for one in beside))
        )
        .select_related("identity", "site")
        .prefetch_related(
            Prefetch("identifiers", queryset=numbers, to_attr="numbers_seen"),
            Prefetch("at_sites", queryset=here, to_attr="named_at"),
            "merged_from",
        )
    )
    return found


def merged_patient(seer: Seer, key: str) -> Patient | None:
    """Return a patient who was merged into one that the person sees; None for anybody else."""
    seen = rows_at(Patient, list(seer.facts)).values("pk")
    rows = Patient.everything.filter(key=key, merged_into__in=seen).annotate(
        updated=moment(Patient)
    )
    found: Patient | None = rows.select_related("merged_into").first()
    return found


def injuries(seer: Seer, *, voided: bool = False) -> QuerySet[Any]:
    """Return injuries with their current classes."""
    now = Classification.objects.filter(superseded=False)
    classified = latest(Classification, injury=OuterRef("pk"))
    found: QuerySet[Any] = (
        clinical(Injury, seer, voided=voided)
        .annotate(updated=Greatest(moment(Injury), Coalesce(classified, "changed_at")))
        .select_related("patient", "site")
        .prefetch_related(
            Prefetch("classifications", queryset=now, to_attr="classes_now"), "foreign_numbers"
        )
    )
    return found


def procedures(seer: Seer, *, voided: bool = False) -> QuerySet[Any]:
    """Return operations with their construct and its parts, and those of what they took out."""
    built = latest(Construct, procedure=OuterRef("pk"))
    parts = latest(Part, construct__procedure=OuterRef("pk"))
    found: QuerySet[Any] = (
        clinical(Procedure, seer, voided=voided)
        .annotate(
            updated=Greatest(
                moment(Procedure),
                "injury__changed_at",
                Coalesce(built, "changed_at"),
                Coalesce(parts, "changed_at"),
            )
        )
        .select_related(
            *("injury__patient", "surgeon", "construct__construct_type", "revises__construct")
        )
        .prefetch_related("foreign_numbers", "construct__parts", "revises__construct__parts")
    )
    return found


def parts(seer: Seer, *, voided: bool = False) -> QuerySet[Any]:
    """Return parts with their article, and what was later removed of their operation, or revised."""
    operation = "construct__procedure"
    kinds = [ProcedureKind.IMPLANT_REMOVAL, ProcedureKind.REVISION_FIXATION]
    later = Procedure.objects.filter(kind__in=kinds)
    revised = latest(Procedure, revises=OuterRef(operation))
    # An article has no moment of its own; when it was made is none of its parts' changes.
    described = _by_trail(ImplantModel, "implant_model__pk", action="update")
    found: QuerySet[Any] = (
        clinical(Part, seer, voided=voided)
        .annotate(
            updated=Greatest(
                *(moment(Part), f"{operation}__changed_at", f"{operation}__injury__changed_at"),
                Coalesce(revised, "changed_at"),
                Coalesce(described, "changed_at"),
            )
        )
        .select_related("implant_model", f"{operation}__injury__patient")
        .prefetch_related(
            "foreign_numbers",
            Prefetch(f"{operation}__revised_by", queryset=later, to_attr="later"),
        )
    )
    return found


def clinical(
    model: type[ClinicalRow], seer: Seer, *, voided: bool = False, personal: bool = False
) -> QuerySet[Any]:
    """Return the clinical rows of a model that a person sees."""
    sites = seer.personal if personal else seer.facts
    return rows_at(model, list(sites), voided=voided)


def numbered(sites: tuple[int, ...], kind: str, system: str | None, value: str) -> QuerySet[Any]:
    """Return the keys of the injuries, operations or parts that another system knows by a number."""
    rows = ForeignNumber.objects.filter(site_id__in=sites, value=value)
    if system is not None:
        rows = rows.filter(system=system)
    found: QuerySet[Any] = rows.filter(**{f"{kind}__isnull": False}).values(f"{kind}_id")
    return found


def with_number(seer: Seer, systems: dict[int, str] | None, value: str) -> QuerySet[Any]:
    """Return the keys of patients with a number, of the issuer as each site calls it; None is any."""
    rows = Identifier.objects.filter(site_id__in=seer.names, value=value)
    if systems is None:
        return rows.values("patient_id")
    found = rows.none()
    for site_id, system in systems.items():
        found = found | rows.filter(site_id=site_id, issuing_system=system)
    return found.values("patient_id")


def named_patients(seer: Seer) -> QuerySet[Any]:
    """Return the keys of the patients whose names a person sees."""
    return PatientSite.objects.filter(site_id__in=seer.names).values("patient_id")


def moment(model: type[ClinicalRow]) -> Case:
    """Return when a row last changed, as a part of a query over its model.

    What an import added carries the moment of its beginning, though it may land hours or days later;
    of such a row the trail says when it was written.
    """
    by_import = Exists(ImportBatch.objects.filter(started_at=OuterRef("changed_at")))
    landed = Greatest("changed_at", Coalesce(_by_trail(model, "pk"), "changed_at"))
    return Case(When(by_import, then=landed), default=F("changed_at"), output_field=DateTimeField())


def latest(model: type[ClinicalRow], **which: OuterRef) -> Subquery:
    """Return when the last of some rows below changed, voided ones too, as a part of a query."""
    rows = model.everything.filter(**which).annotate(moment=moment(model))
    return Subquery(rows.order_by("-moment").values("moment")[:1])


def _by_trail(model: type[Model], key: str, **which: str) -> Subquery:
    """Return when a row was last written, by the trail; None where it does not know the row."""
    written = AuditEntry.objects.filter(
        table=model._meta.db_table, row_id=Cast(OuterRef(key), CharField()), **which
    )
    return Subquery(written.exclude(action="read").order_by("-id").values("at")[:1])
