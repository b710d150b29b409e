"""Verifying and sealing the trail by hand."""

import io

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from registry.models import AuditEntry
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
    assert "1 entries are not sealed yet: run seal_trail" in run("verify_trail")
    assert "1 entries sealed" in run("seal_trail")
    assert "0 entries sealed" in run("seal_trail")


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
