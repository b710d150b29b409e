"""Sealing, verifying and erasing from the trail."""

import json

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from registry.models import AuditEntry, ChainHead
from registry.rules import chain
from registry.services import audit
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db


def tamper(sql: str, *values: object) -> None:
    """Write past the triggers, as somebody with the rights of the database's owner could."""
    with connection.cursor() as cursor:
        for kind in ("update", "delete"):
            if connection.vendor == "sqlite":
                cursor.execute(f"DROP TRIGGER IF EXISTS trail_keep_{kind}")
            else:
                cursor.execute(f"DROP TRIGGER IF EXISTS trail_keep_{kind} ON registry_auditentry")
        cursor.execute(sql, values)


def some_entries() -> list[AuditEntry]:
    builders.procedure()
    audit.seal_all()
    return list(audit.sealed_entries())


def test_nobody_who_writes_or_reads_waits_for_the_end_of_the_chain() -> None:
    audit.seal_all()
    with CaptureQueriesContext(connection) as asked:
        patient = builders.patient()
        audit.record_read(by=patient.recorded_by, patient=patient, now=NOW, page="patient")
    table = ChainHead._meta.db_table
    assert not [one["sql"] for one in asked if table in one["sql"]]
    theirs = AuditEntry.objects.filter(person_id=patient.recorded_by_id)
    assert theirs.filter(position__isnull=True).count() == theirs.count() > 1
    audit.seal_all()
    assert not theirs.filter(position__isnull=True).exists()


def test_writes_wait_unsealed_until_they_are_sealed() -> None:
    builders.site()
    assert audit.verify().unsealed == 1
    assert audit.seal_all() == 1
    assert audit.seal_all() == 0
    assert audit.verify().unsealed == 0


def test_batches_follow_each_other_in_one_chain(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(audit, "BATCH", 2)
    builders.procedure()
    audit.seal_all()
    found = audit.verify()
    assert found.broken is None
    assert found.checked == AuditEntry.objects.count() == ChainHead.objects.get().position


def test_an_untouched_chain_holds() -> None:
    entries = some_entries()
    found = audit.verify()
    assert (found.checked, found.broken, found.entry) == (len(entries), None, None)


def test_an_empty_trail_holds() -> None:
    assert audit.verify().broken is None


def test_verifying_names_the_entry_whose_content_was_changed() -> None:
    entry = some_entries()[4]
    forged = {**(entry.after or {}), "version": 99}
    tamper("UPDATE registry_auditentry SET after = %s WHERE id = %s", json.dumps(forged), entry.pk)
    found = audit.verify()
    assert found.broken == chain.BrokenLink(5, "its content was changed after sealing")
    assert found.entry == entry


def test_verifying_names_another_person_than_the_one_who_wrote() -> None:
    entry = some_entries()[2]
    tamper("UPDATE registry_auditentry SET person_id = 999 WHERE id = %s", entry.pk)
    assert audit.verify().broken == chain.BrokenLink(3, "its content was changed after sealing")


def test_verifying_names_the_place_of_a_missing_entry() -> None:
    entry = some_entries()[3]
    tamper("DELETE FROM registry_auditentry WHERE id = %s", entry.pk)
    assert audit.verify().broken == chain.BrokenLink(4, "an entry is missing")


def test_verifying_sees_that_the_last_entries_are_gone() -> None:
    entries = some_entries()
    tamper("DELETE FROM registry_auditentry WHERE id = %s", entries[-1].pk)
    broken = audit.verify().broken
    assert broken == chain.BrokenLink(len(entries), "the end of the chain is missing")


def test_an_entry_sealed_anew_after_a_forgery_breaks_the_next_link() -> None:
    entry = some_entries()[1]
    tamper(
        "UPDATE registry_auditentry SET reason = 'forged', hash = %s WHERE id = %s",
        "0" * 64,
        entry.pk,
    )
    assert audit.verify().broken == chain.BrokenLink(2, "its content was changed after sealing")


def test_blanked_names_break_the_chain_unless_an_erasure_announces_them() -> None:
    patient = builders.patient()
    audit.seal_all()
    names = AuditEntry.objects.get(table="registry_identity")
    AuditEntry.objects.filter(pk=names.pk).update(before=None, after=None)
    assert audit.verify().broken == chain.BrokenLink(
        names.position, "its content was removed without an erasure"
    )
    audit.erase_names(patient=patient, reason="asked", by=patient.recorded_by, now=NOW)
    assert audit.verify().broken is not None


def test_erasing_names_blanks_every_entry_about_them_and_keeps_the_chain() -> None:
    patient = builders.patient(family_name="Unmistakable")
    by = patient.recorded_by
    blanked = audit.erase_names(patient=patient, reason="asked", by=by, now=NOW)
    assert blanked == 2
    found = audit.verify()
    assert (found.broken, found.erased) == (None, 2)
    for entry in AuditEntry.objects.all():
        assert "Unmistakable" not in json.dumps([entry.before, entry.after])
    last = AuditEntry.objects.latest("id")
    assert (last.action, last.person_id, last.reason) == ("erase", by.pk, "asked")


def test_a_read_is_written_down_with_the_page() -> None:
    patient = builders.patient()
    reader = builders.person("selma", north="surgeon")
    audit.record_read(by=reader, patient=patient, now=NOW, page="patient")
    entry = AuditEntry.objects.latest("id")
    assert (entry.action, entry.row_id, entry.person_id) == ("read", str(patient.pk), reader.pk)


def test_an_erasure_is_sealed_with_all_that_came_before_it() -> None:
    patient = builders.patient()
    audit.erase_names(patient=patient, reason="asked", by=patient.recorded_by, now=NOW)
    found = audit.verify()
    assert (found.broken, found.unsealed, found.erased) == (None, 0, 2)


@pytest.mark.django_db
def test_a_list_that_named_patients_is_one_entry_that_says_whom() -> None:
    somebody = builders.person("looker", north="coordinator")
    audit.record_list(by=somebody, keys=["B2", "A1"], now=NOW, page="trace")
    entry = AuditEntry.objects.get(action="read")
    assert (entry.after, entry.reason) == ({"keys": ["A1", "B2"]}, "trace")
    assert audit.verify().broken is None
