"""The only way to save a clinical row: one transaction, a version check, the trail, voiding."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.db.models import F, Model, QuerySet

from registry.errors import BadInput, HoldfastError, StaleVersion
from registry.models.base import ClinicalRow
from registry.models.people import Person
from registry.services import audit, triggers

Row = TypeVar("Row", bound=ClinicalRow)


@contextmanager
def change(*, by: Person | None, reason: str = "", sealed: bool = True) -> Iterator[None]:
    """Make everything inside one change: all saved or nothing, named in the trail, and sealed.

    Nested changes belong to the outermost one, whose person and reason are kept. What is left
    unsealed, as a load of very many rows may be, waits for the worker that seals such entries.
    """
    if triggers.acting.get() is not triggers.NOBODY:
        with transaction.atomic():
            yield
        return
    person_id = by.pk if by is not None else None
    with triggers.acting_as(person_id, reason), transaction.atomic():
        triggers.tell_postgres(connection)
        start = audit.last_entry()
        yield
        if sealed:
            audit.seal_since(start)


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
            row.save(force_insert=True)
    except IntegrityError as fault:
        row.pk = None
        check(row, with_links=True)
        raise BadInput(f"This could not be saved: {fault}") from fault
    return row


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
    standing = type(row).everything.filter(
        pk=row.pk, version=expected_version, voided_at__isnull=True
    )
    try:
        with change(by=by, reason=reason):
            changed = standing.update(
                **values, version=expected_version + 1, changed_at=now, changed_by=by
            )
            if not changed:
                raise _stale(row, expected_version)
    except IntegrityError as fault:
        check(row, with_links=True)
        raise BadInput(f"This could not be saved: {fault}") from fault
    row.version = expected_version + 1
    row.changed_at, row.changed_by = now, by
    return row


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
    return {field.name for field in row._meta.concrete_fields if field.is_relation}


def _stale(row: ClinicalRow, expected_version: int) -> HoldfastError:
    current = type(row).everything.filter(pk=row.pk).values_list("version", flat=True).first()
    what = str(row._meta.verbose_name).capitalize()
    return StaleVersion(what, expected=expected_version, current=current or 0)
