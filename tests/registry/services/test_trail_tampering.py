"""Every column of an entry of the trail altered, at several places: verifying finds each, where it is."""

import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection, models

from registry.models import AuditEntry, ChainHead
from registry.rules import chain
from registry.services import audit
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db
COLUMNS = [field.name for field in AuditEntry._meta.concrete_fields]
# Of the entries in order: the first, one in the middle, and the last.
PLACES: dict[str, Callable[[int], int]] = {
    "first": lambda many: 0,
    "middle": lambda many: many // 2,
    "last": lambda many: many - 1,
}


@pytest.fixture
def entries() -> list[AuditEntry]:
    """Return a trail of changes, a read and a removal, all sealed, whose keeper is off duty."""
    row = builders.procedure()
    somebody = row.recorded_by
    audit.record_list(by=somebody, keys=["A1"], now=NOW, page="trace")
    row.injury.classifications.all().delete()
    audit.seal_all()
    with connection.cursor() as cursor:
        for kind in ("update", "delete"):
            on = " ON registry_auditentry" if connection.vendor == "postgresql" else ""
            cursor.execute(f"DROP TRIGGER trail_keep_{kind}{on}")
    found = list(audit.sealed_entries())
    assert {"insert", "delete", "read"} <= {one.action for one in found}
    assert audit.verify().broken is None
    return found


def other(column: str, now: Any) -> Any:
    """Return another value than the one that stands there, the least that can be told from it."""
    field: Any = AuditEntry._meta.get_field(column)
    if isinstance(field, models.DateTimeField):
        return now + timedelta(microseconds=1)
    if isinstance(field, models.JSONField):
        return {**(now or {}), "forged": None}
    if isinstance(field, models.IntegerField):
        return 1_000_000 + (now or 0)
    return f"{now}x" if len(now) < field.max_length else f"{'1' if now[0] == '0' else '0'}{now[1:]}"


def altered(entry: AuditEntry, **values: Any) -> None:
    assert AuditEntry.objects.filter(pk=entry.pk).update(**values) == 1


def removed(*entries: AuditEntry) -> None:
    AuditEntry.objects.filter(pk__in=[one.pk for one in entries]).delete()


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("column", COLUMNS)
def test_any_other_value_is_found_where_it_stands(
    entries: list[AuditEntry], column: str, place: str
) -> None:
    at = PLACES[place](len(entries))
    altered(entries[at], **{column: other(column, getattr(entries[at], column))})
    broken = audit.verify().broken
    assert broken is not None
    assert broken.position == at + 1


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("column", ["before", "after", "person_id", "position", "reason"])
def test_what_was_emptied_is_found_where_it_stood(
    entries: list[AuditEntry], column: str, place: str
) -> None:
    at = PLACES[place](len(entries))
    empty = "" if column == "reason" else None
    if getattr(entries[at], column) == empty:
        altered(entries[at], reason="not what was said")
    else:
        altered(entries[at], **{column: empty})
    broken = audit.verify().broken
    assert broken is not None
    assert broken.position == at + 1


@pytest.mark.parametrize("place", PLACES)
def test_what_was_removed_is_found_where_it_stood(entries: list[AuditEntry], place: str) -> None:
    at = PLACES[place](len(entries))
    removed(entries[at])
    broken = audit.verify().broken
    assert broken is not None
    assert broken.position == at + 1


@pytest.mark.parametrize("place", PLACES)
def test_what_was_put_in_between_is_found(entries: list[AuditEntry], place: str) -> None:
    at = PLACES[place](len(entries))
    for one in reversed(entries[at:]):
        altered(one, position=(one.position or 0) + 1)
    forged = {"at": NOW, "action": "insert", "table": "registry_site", "row_id": "1"}
    previous = entries[at].previous_hash
    AuditEntry.objects.create(
        **forged, position=at + 1, previous_hash=previous, hash=chain.seal(previous, {})
    )
    broken = audit.verify().broken
    assert broken is not None
    assert broken.position == at + 1


def test_an_entry_put_behind_the_end_with_a_seal_of_its_own_is_found(
    entries: list[AuditEntry],
) -> None:
    last = entries[-1]
    one = AuditEntry.objects.create(
        at=NOW,
        action="insert",
        table="registry_site",
        row_id="1",
        position=len(entries) + 1,
        previous_hash=last.hash,
    )
    facts = audit._facts(one, len(entries) + 1, "", "")
    altered(one, hash=chain.seal(last.hash, facts))
    assert audit.verify().broken is not None


@pytest.mark.parametrize("place", ["first", "middle"])
def test_two_that_changed_places_are_found(entries: list[AuditEntry], place: str) -> None:
    at = PLACES[place](len(entries))
    one, next_one = entries[at], entries[at + 1]
    altered(one, position=None)
    altered(next_one, position=one.position)
    altered(one, position=next_one.position)
    broken = audit.verify().broken
    assert broken is not None
    assert broken.position == at + 1


@pytest.mark.parametrize("kept", [0, 1, 3])
def test_an_end_that_was_removed_is_found_while_the_place_of_the_last_seal_stays(
    entries: list[AuditEntry], kept: int
) -> None:
    removed(*entries[kept:])
    broken = audit.verify().broken
    assert broken == chain.BrokenLink(kept + 1, "the end of the chain is missing")


@pytest.mark.parametrize("values", [{"position": 3}, {"hash": "0" * 64}])
def test_another_place_of_the_last_seal_is_found(
    entries: list[AuditEntry], values: dict[str, Any]
) -> None:
    ChainHead.objects.update(**values)
    assert audit.verify().broken is not None


def test_a_number_taken_from_another_entry_does_not_pass_for_an_erasure(
    entries: list[AuditEntry],
) -> None:
    patient = builders.patient()
    audit.erase_names(patient=patient, reason="asked", by=patient.recorded_by, now=NOW)
    assert audit.verify().broken is None
    names = next(one for one in entries if one.table == "registry_identity")
    announced = AuditEntry.objects.get(
        table="registry_identity", row_id=str(patient.identity.pk), action="insert"
    )
    altered(announced, id=2_000_000)
    altered(names, before=None, after=None)
    AuditEntry.objects.filter(pk=names.pk).update(id=announced.pk)
    broken = audit.verify().broken
    assert broken is not None
    assert broken.position == names.position


def test_entries_sealed_before_a_seal_covered_their_number_still_hold() -> None:
    builders.patient()
    audit.seal_all()
    previous = chain.START
    with connection.cursor() as cursor:
        on = " ON registry_auditentry" if connection.vendor == "postgresql" else ""
        cursor.execute(f"DROP TRIGGER trail_keep_update{on}")
    for entry in audit.sealed_entries():
        facts = {
            "position": entry.position,
            "at": entry.at.isoformat(timespec="milliseconds"),
            "action": entry.action,
            "table": entry.table,
            "row_id": entry.row_id,
            "before": entry.before_digest,
            "after": entry.after_digest,
            "person_id": entry.person_id,
            "reason": entry.reason,
        }
        seal = chain.seal(previous, json.loads(json.dumps(facts)))
        altered(entry, previous_hash=previous, hash=seal)
        previous = seal
    ChainHead.objects.update(hash=previous)
    assert audit.verify().broken is None
    builders.site("later")
    audit.seal_all()
    assert audit.verify().broken is None
