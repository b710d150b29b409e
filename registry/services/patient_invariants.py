"""What must hold of patients: identities, merges and moves that can be undone."""

from collections.abc import Iterator
from typing import Any

from django.apps import apps
from django.db.models import CharField, Exists, F, Model, OuterRef, Q, QuerySet
from django.db.models.functions import Cast

from registry.models.audit import AuditEntry
from registry.models.identities import AlternativeContact, Identifier, Identity
from registry.models.injuries import Injury
from registry.models.merges import PatientMerge
from registry.models.moves import MoveKind, RecordMove
from registry.models.patients import Patient
from registry.services import audit, merges
from registry.services.invariants import AT_ONCE, Breach, Invariant, Looking, broken_by

# What a move writes down of how things were.
OF_MOVE: dict[MoveKind, tuple[str, ...]] = {
    MoveKind.PATIENT: ("before", "dates", "patient_site"),
    MoveKind.SIDE: ("followup_motionexam",),
    MoveKind.OPERATION: ("operations",),
}


def _identities(looking: Looking) -> Iterator[Breach]:
    patients = _with_erasure()
    named = Exists(Identity.objects.filter(patient=OuterRef("pk")))
    yield from broken_by(
        patients.filter(~named, erased=False), "it has no identity and was never erased"
    )
    for model in (Identity, Identifier, AlternativeContact):
        there = Exists(model._default_manager.filter(patient=OuterRef("pk")))
        what = f"it was erased, and its {model._meta.verbose_name} is there"
        yield from broken_by(patients.filter(there, erased=True), what)


def _with_erasure() -> "QuerySet[Any]":
    erasures = AuditEntry.objects.filter(
        action=audit.ERASED, table=Patient._meta.db_table, row_id=OuterRef("key_text")
    )
    keyed = Patient.everything.annotate(key_text=Cast("pk", CharField()))
    return keyed.annotate(erased=Exists(erasures))


def _merges(looking: Looking) -> Iterator[Breach]:
    open_ones = PatientMerge.objects.filter(merged=OuterRef("pk"), undone_at__isnull=True)
    merged = Patient.everything.filter(merged_into__isnull=False)
    here = open_ones.filter(kept=OuterRef("merged_into"))
    yield from broken_by(merged.filter(~Exists(here)), "no merge says why it was merged")
    yield from broken_by(
        Patient.everything.filter(Exists(open_ones), merged_into__isnull=True),
        "a merge that stands says that it was merged",
    )
    for model in merges.CLINICAL:
        yield from broken_by(
            model.objects.filter(patient__merged_into__isnull=False),
            "it stayed with a patient who was merged into another",
        )
    standing = PatientMerge.objects.filter(undone_at__isnull=True).order_by("pk")
    wanted = [model._meta.db_table for model in (*merges.CLINICAL, *merges.HANDED)]
    for merge in standing.iterator(chunk_size=AT_ONCE):
        lacking = [name for name in (*wanted, "refused_means") if name not in merge.moved]
        yield from _undoable(merge, merge.moved, lacking, erased=_erased(merge.kept_id))


def _moves(looking: Looking) -> Iterator[Breach]:
    standing = RecordMove.objects.filter(undone_at__isnull=True).order_by("pk")
    for move in standing.iterator(chunk_size=AT_ONCE):
        lacking = [name for name in OF_MOVE[MoveKind(move.kind)] if name not in move.moved]
        yield from _undoable(move, move.moved, lacking, erased=_erased(move.to_patient_id))
    yield from _moved_elsewhere()


def _moved_elsewhere() -> Iterator[Breach]:
    standing = RecordMove.objects.filter(undone_at__isnull=True)
    later = standing.filter(pk__gt=OuterRef("pk"))
    of_operations = standing.filter(kind=MoveKind.OPERATION)
    newest = of_operations.filter(~Exists(later.filter(procedure=OuterRef("procedure"))))
    yield from broken_by(
        newest.exclude(procedure__injury=F("to_injury")),
        "its operation is on another injury than it says",
    )
    of_injuries = standing.exclude(kind=MoveKind.OPERATION)
    newest = of_injuries.filter(
        ~Exists(later.filter(injury=OuterRef("injury")).exclude(kind=MoveKind.OPERATION))
    )
    gone_on = Exists(
        PatientMerge.objects.filter(
            Q(merged=OuterRef("to_patient")) | Q(kept=OuterRef("to_patient"))
        )
    )
    yield from broken_by(
        newest.exclude(injury__patient=F("to_patient")).filter(~gone_on),
        "its injury is with another patient than it says",
    )


def _undoable(
    act: PatientMerge | RecordMove, moved: dict[str, Any], lacking: list[str], *, erased: bool
) -> Iterator[Breach]:
    """Say what is missing of what undoing an act needs."""
    where = f"{act._meta.db_table} {act.pk}"
    if lacking:
        yield Breach(where, f"it cannot be undone: it lacks {', '.join(lacking)}")
    if erased:
        return
    tables = {model._meta.db_table: model for model in apps.get_models()}
    for table, keys in moved.items():
        if table in tables and isinstance(keys, list):
            gone = set(keys) - _there(tables[table], keys)
            if gone:
                told = ", ".join(map(str, sorted(gone)))
                yield Breach(
                    where, f"it cannot be undone: of {table}, {told} is not there any more"
                )


def _there(model: type[Model], keys: list[int]) -> set[int]:
    return set(model._base_manager.filter(pk__in=keys).values_list("pk", flat=True))


def _erased(patient_id: int) -> bool:
    return _with_erasure().filter(pk=patient_id, erased=True).exists()


def _of_nobody(looking: Looking) -> Iterator[Breach]:
    void = Injury.objects.filter(patient__voided_at__isnull=False)
    yield from broken_by(void, "it stands, and its patient is void")


INVARIANTS = (
    Invariant(
        "identities",
        "Each patient has an identity, unless erased; then nothing of it.",
        _identities,
    ),
    Invariant("merges", "Each merge that stands can be undone, and left nothing behind.", _merges),
    Invariant("moves", "Each move that stands can be undone, and is where it says.", _moves),
    Invariant(
        "injuries_of_patients", "Each injury that stands has a patient who does.", _of_nobody
    ),
)
