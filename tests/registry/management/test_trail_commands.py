"""Verifying and sealing the trail by hand."""

import io
from datetime import timedelta
from threading import Thread

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.utils import timezone

from registry.models import AuditEntry
from registry.services import audit
from tests import builders

pytestmark = pytest.mark.django_db


def run(name: str, *args: str) -> str:
    out = io.StringIO()
    call_command(name, *args, stdout=out)
    return out.getvalue()


def drop(trigger: str, table: str) -> None:
    on = f" ON {table}" if connection.vendor == "postgresql" else ""
    with connection.cursor() as cursor:
        cursor.execute(f"DROP TRIGGER {trigger}{on}")


def test_a_chain_that_holds_is_said_to_hold() -> None:
    builders.patient()
    run("seal_trail")
    told = run("verify_trail")
    assert "The chain holds." in told
    assert "not sealed" not in told


def test_unsealed_entries_are_reported_and_sealed_once() -> None:
    builders.site()
    assert "1 more are not sealed yet" in run("verify_trail")
    assert "1 entries sealed" in run("seal_trail")
    assert "0 entries sealed" in run("seal_trail")


def test_entries_that_wait_for_their_seal_too_long_end_the_command() -> None:
    late = timezone.now() - timedelta(hours=2)
    AuditEntry.objects.create(at=late, action="read", table="x", row_id="1")
    with pytest.raises(CommandError, match="1 entries have waited for their seal"):
        run("verify_trail")


@pytest.mark.needs_postgres
@pytest.mark.django_db(transaction=True)
def test_what_the_worker_seals_meanwhile_breaks_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    builders.patient()
    audit.seal_all()
    builders.patient(family_name="Later")
    short, sealed = audit._Walk.short, []

    def seal() -> None:
        sealed.append(audit.seal_all())
        connection.close()

    def after_sealing(walk: audit._Walk) -> object:
        worker = Thread(target=seal)
        worker.start()
        worker.join(30)
        return short(walk)

    monkeypatch.setattr(audit._Walk, "short", after_sealing)
    assert "The chain holds." in run("verify_trail")
    assert sealed[0] > 0


def test_a_forged_entry_ends_the_command_and_is_named() -> None:
    patient = builders.patient()
    run("seal_trail")
    entry = AuditEntry.objects.get(table="registry_patient", row_id=str(patient.pk))
    drop("trail_keep_update", "registry_auditentry")
    AuditEntry.objects.filter(pk=entry.pk).update(person_id=999)
    with pytest.raises(CommandError) as fault:
        run("verify_trail")
    told = str(fault.value)
    assert f"position {entry.position}: its content was changed after sealing" in told
    assert f"entry {entry.pk}: insert registry_patient {patient.pk}" in told


def test_a_missing_trigger_ends_the_command_and_is_named() -> None:
    name = next(
        name
        for name in ("trail_registry_site_u", "trail_registry_site_all")
        if name.endswith("u") == (connection.vendor == "sqlite")
    )
    drop(name, "registry_site")
    with pytest.raises(CommandError, match=name):
        run("verify_trail")
