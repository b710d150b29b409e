"""The only way to save a clinical row: one transaction, a version check, the trail, voiding."""

from collections.abc import Iterator, Mapping
from contextlib import AbstractContextManager, contextmanager
from datetime import datetime
from functools import cache
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.db import DatabaseError, IntegrityError, connection, transaction
from django.db.models import F, Model, QuerySet

from registry import notices
from registry.errors import BadInput, HoldfastError, StaleVersion
from registry.models.base import ClinicalRow
from registry.models.people import Person
from registry.services import gathering, triggers

Row = TypeVar("Row", bound=ClinicalRow)
Plain = TypeVar("Plain", bound=Model)


@contextmanager
def change(*, by: Person | None, reason: str = "") -> Iterator[None]:
    """Make everything inside one change: all saved or nothing, and named in the trail.

    Nested changes belong to the outermost one, whose person and reason are kept. The worker seals
    what the trail has gained: the chain has one end, for which all who write would wait in line.
    """
    if triggers.acting.get() is not triggers.NOBODY:
        with _step():
            yield
        return
    person_id = by.pk if by is not None else None
    with triggers.acting_as(person_id, reason), transaction.atomic():
        triggers.tell_postgres(connection)
        yield


def _step() -> AbstractContextManager[None]:
    """Return what undoes a part of a change; what is written together stands or falls as a whole."""
    together = gathering.current()
    return transaction.atomic() if together is None else together.whole()


def create(row: Row, *, by: Person, now: datetime) -> Row:
    """Save a new clinical row.

    Raises BadInput naming the fields whose values the model refuses.
    """
    row.recorded_at = row.changed_at = now
    row.recorded_by = row.changed_by = by
    row.version = 1
    _check_fields(row)
    try:
        with change(by=by):
            _insert(row)
            notices.row_written.send(sender=type(row), row=row, by=by, now=now)
    except IntegrityError as fault:
        row.pk = None
        check(row, with_links=True)
        raise BadInput(f"This could not be saved: {refusal_of(fault)}") from fault
    return row


def put(row: Plain) -> Plain:
    """Save a new row that carries no version, such as a number, inside a change of the caller's.

    Raises BadInput naming the fields whose values the model refuses.
    """
    _check_fields(row)
    try:
        with _step():
            _insert(row)
    except IntegrityError as fault:
        row.pk = None
        check(row, with_links=True)
        raise BadInput(f"This could not be saved: {refusal_of(fault)}") from fault
    return row


def _insert(row: Model) -> None:
    together = gathering.current()
    if together is None or not together.add(row):
        row.save(force_insert=True)


def under(model: type[Plain], *related: str, **parent: Model) -> list[Plain]:
    """Return the live rows of a model that hang on one row, in the order in which they were made.

    `parent` is the name of the link and the row, `related` what is read along with each. What was
    made together is not asked for again.
    """
    ((name, row),) = parent.items()
    together = gathering.current()
    known = None if together is None else together.under(model, name, row)
    if known is None:
        found = model._default_manager.filter(**parent).order_by("pk")
        return list(found.select_related(*related) if related else found)
    live = (one for one in known if getattr(one, "voided_at", None) is None)
    return [one for one in live if isinstance(one, model)]


def save(
    row: Row,
    values: Mapping[str, Any],
    *,
    by: Person,
    now: datetime,
    expected_version: int,
    reason: str = "",
) -> Row:
    """Save new values over the version that the user saw, and no other.

    Returns the row as it now stands. Raises StaleVersion when somebody was quicker, BadInput when
    a value cannot be taken.
    """
    for name, value in values.items():
        setattr(row, name, value)
    _check_fields(row)
    try:
        with change(by=by, reason=reason):
            written = {
                **values,
                "version": expected_version + 1,
                "changed_at": now,
                "changed_by": by,
            }
            if not _change_together(row, written, expected_version):
                standing = type(row).everything.filter(
                    pk=row.pk, version=expected_version, voided_at__isnull=True
                )
                if not standing.update(**written):
                    raise _stale(row, expected_version)
            row.version = expected_version + 1
            row.changed_at, row.changed_by = now, by
            notices.row_written.send(sender=type(row), row=row, by=by, now=now)
    except IntegrityError as fault:
        check(row, with_links=True)
        raise BadInput(f"This could not be saved: {refusal_of(fault)}") from fault
    return row


def _change_together(row: ClinicalRow, values: Mapping[str, Any], version: int) -> bool:
    """Say whether a change of a row goes with those that are written together."""
    together = gathering.current()
    return together is not None and together.change(row, values, version=version)


def hold(row: ClinicalRow, *, expected_version: int) -> None:
    """Keep everybody else off a row until this transaction ends, if it is the version that the user saw.

    For what writes more than one row: of several who save at once all but one are told so, and not
    that some part of it is there already. Raises StaleVersion.
    """
    together = gathering.current()
    if together is not None and together.made(row) and row.version == expected_version:
        # Nobody else has seen it yet.
        return
    standing = (
        type(row)
        .everything.select_for_update(of=("self",), no_key=True)
        .filter(pk=row.pk, version=expected_version, voided_at__isnull=True)
    )
    if not list(standing.values_list("pk")):
        raise _stale(row, expected_version)


def refusal_of(fault: DatabaseError) -> str:
    """Say which rule of the database refused a row, without the values that its own words quote."""
    rule = getattr(getattr(fault.__cause__, "diag", None), "constraint_name", None)
    if rule:
        return f"it breaks the rule {rule}"
    if isinstance(fault, IntegrityError):
        # The lines after the first quote the row.
        return (str(fault).splitlines() or [""])[0]
    return "a value does not fit its column"


def void(row: Row, *, by: Person, now: datetime, expected_version: int, reason: str) -> None:
    """Take a wrong row out of every count, keeping it and the reason.

    Raises BadInput without a reason, StaleVersion when the row has changed since it was read.
    """
    if not reason.strip():
        raise BadInput({"reason": "Say why this row is wrong; it leaves every count."})
    with change(by=by, reason=reason):
        changed = (
            type(row)
            .everything.filter(pk=row.pk, version=expected_version, voided_at__isnull=True)
            .update(
                voided_at=now,
                voided_by=by,
                void_reason=reason.strip()[:300],
                version=expected_version + 1,
                changed_at=now,
                changed_by=by,
            )
        )
        if not changed:
            raise _stale(row, expected_version)
        notices.row_written.send(sender=type(row), row=row, by=by, now=now)


def void_all(rows: QuerySet[Any], *, by: Person, now: datetime, reason: str) -> int:
    """Void every row of a queryset that is not void yet; return how many.

    For what falls together with a row above it: nobody was asked about each one's version.
    """
    with change(by=by, reason=reason):
        return rows.filter(voided_at__isnull=True).update(
            voided_at=now,
            voided_by=by,
            void_reason=reason.strip()[:300],
            version=F("version") + 1,
            changed_at=now,
            changed_by=by,
        )


def check(row: Model, *, with_links: bool = False) -> None:
    """Hold a row against its fields and constraints, by default without a query for each link.

    Raises BadInput with a message for each field.
    """
    left_out = set() if with_links else _links(row)
    try:
        row.full_clean(exclude=left_out, validate_unique=True, validate_constraints=True)
    except ValidationError as fault:
        faults = fault.message_dict if hasattr(fault, "error_dict") else {"": fault.messages}
        raise BadInput(
            {("" if k == "__all__" else k): " ".join(v) for k, v in faults.items()}
        ) from fault


def _check_fields(row: Model) -> None:
    """Hold a row against its fields only: the database holds it against its constraints.

    Asking about each constraint first took three quarters of the time of a save.
    """
    try:
        row.full_clean(exclude=_links(row), validate_unique=False, validate_constraints=False)
    except ValidationError:
        # Now every fault is wanted at once.
        check(row)
        raise


def _links(row: Model) -> set[str]:
    return set(_links_of(type(row)))


@cache
def _links_of(model: type[Model]) -> frozenset[str]:
    return frozenset(field.name for field in model._meta.concrete_fields if field.is_relation)


def _stale(row: ClinicalRow, expected_version: int) -> HoldfastError:
    current = type(row).everything.filter(pk=row.pk).values_list("version", flat=True).first()
    what = str(row._meta.verbose_name).capitalize()
    return StaleVersion(what, expected=expected_version, current=current or 0)
