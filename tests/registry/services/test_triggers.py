"""The database itself writes the trail and keeps it."""

import pytest
from django.apps import apps
from django.db import DatabaseError, connection, transaction
from django.db.models.signals import post_migrate, pre_migrate

from registry.models import AuditEntry, Membership, Patient, Site
from registry.services import audit, records, triggers
from tests import builders

pytestmark = pytest.mark.django_db


def last() -> AuditEntry:
    return AuditEntry.objects.latest("id")


def test_the_triggers_that_ought_to_be_there_are_there_after_migrating() -> None:
    assert triggers.trigger_names(connection) == triggers.expected_names(connection)


def test_a_migration_may_remake_the_watched_tables_and_leaves_them_watched() -> None:
    registry = apps.get_app_config("registry")
    told = {"app_config": registry, "verbosity": 0, "interactive": False, "using": "default"}
    pre_migrate.send(sender=registry, plan=["one"], apps=apps, **told)
    on_sqlite = connection.vendor == "sqlite"
    assert bool(triggers.trigger_names(connection)) is not on_sqlite
    post_migrate.send(sender=registry, plan=["one"], apps=apps, **told)
    assert triggers.trigger_names(connection) == triggers.expected_names(connection)


def test_the_triggers_stay_on_while_no_migration_is_due() -> None:
    registry = apps.get_app_config("registry")
    pre_migrate.send(sender=registry, plan=[], using="default", verbosity=0, interactive=False)
    assert triggers.trigger_names(connection) == triggers.expected_names(connection)


def test_every_model_with_changes_worth_keeping_is_watched() -> None:
    watched = {model._meta.db_table for model in triggers.audited_models()}
    assert {"registry_patient", "registry_identity", "followup_review"} <= watched
    assert "registry_auditentry" not in watched


def test_enrolling_writes_down_the_patient_and_who_enrolled() -> None:
    patient = builders.patient()
    entry = AuditEntry.objects.get(table="registry_patient", row_id=str(patient.pk))
    assert entry.action == "insert"
    assert entry.after["key"] == patient.key
    assert entry.person_id == patient.recorded_by_id


def test_a_plain_save_leaves_before_after_and_who() -> None:
    place = builders.site()
    with records.change(by=builders.person("ada"), reason="moved house"):
        place.name = "New name"
        place.save()
    entry = last()
    assert (entry.action, entry.reason) == ("update", "moved house")
    assert (entry.before["name"], entry.after["name"]) == ("North Hospital", "New name")
    assert entry.person_id == builders.person("ada").pk


def test_a_bulk_create_leaves_one_entry_for_each_row() -> None:
    with records.change(by=builders.person("ada")):
        Site.objects.bulk_create([Site(code=f"s{n}", name=f"Site {n}") for n in range(3)])
    entries = list(AuditEntry.objects.filter(table="registry_site").order_by("id"))
    assert [entry.after["code"] for entry in entries] == ["s0", "s1", "s2"]
    assert {entry.person_id for entry in entries} == {builders.person("ada").pk}


def test_a_queryset_update_leaves_before_and_after() -> None:
    place = builders.site()
    with records.change(by=builders.person("ada")):
        Site.objects.filter(pk=place.pk).update(name="By queryset")
    assert (last().before["name"], last().after["name"]) == ("North Hospital", "By queryset")
    assert last().person_id == builders.person("ada").pk


def test_raw_sql_leaves_an_entry_of_nobody() -> None:
    place = builders.site()
    with connection.cursor() as cursor:
        cursor.execute("UPDATE registry_site SET name = 'By hand' WHERE id = %s", [place.pk])
    assert (last().after["name"], last().person_id) == ("By hand", None)
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM registry_site WHERE id = %s", [place.pk])
    assert last().action == "delete"
    assert last().before["name"] == "By hand"
    assert last().after is None


def test_an_update_that_changes_nothing_leaves_no_entry() -> None:
    place = builders.site()
    before = AuditEntry.objects.count()
    Site.objects.filter(pk=place.pk).update(name=place.name)
    assert AuditEntry.objects.count() == before


def test_passwords_never_reach_the_trail() -> None:
    somebody = builders.person("ada")
    somebody.set_password("a new one for the test")
    somebody.save()
    for entry in AuditEntry.objects.filter(table="registry_person"):
        assert "password" not in (entry.after or {})


def test_a_membership_is_written_down() -> None:
    builders.person("ada", north="surgeon")
    membership = Membership.objects.get()
    assert AuditEntry.objects.filter(
        table="registry_membership", row_id=str(membership.pk)
    ).exists()


@pytest.mark.parametrize("sealed", [False, True])
def test_an_entry_refuses_change_and_deletion(sealed: bool) -> None:
    builders.site()
    if sealed:
        audit.seal_all()
    entry = last()
    for refused in (
        lambda: AuditEntry.objects.filter(pk=entry.pk).update(reason="forged"),
        lambda: AuditEntry.objects.filter(pk=entry.pk).update(after={"name": "forged"}),
        lambda: AuditEntry.objects.filter(pk=entry.pk).update(after=None, before=None),
        lambda: AuditEntry.objects.filter(pk=entry.pk).delete(),
    ):
        with pytest.raises(DatabaseError, match="cannot be changed"), transaction.atomic():
            refused()
    entry.refresh_from_db()
    assert entry.reason == ""


def test_a_sealed_entry_refuses_another_place_in_the_chain() -> None:
    builders.site()
    audit.seal_all()
    with pytest.raises(DatabaseError, match="cannot be changed"), transaction.atomic():
        AuditEntry.objects.filter(pk=last().pk).update(position=999)


def test_only_what_is_said_of_names_can_be_blanked() -> None:
    patient = builders.patient()
    audit.seal_all()
    names = AuditEntry.objects.filter(table="registry_identity")
    names.update(before=None, after=None)
    assert names.get().after is None
    clinical = AuditEntry.objects.filter(table=Patient._meta.db_table, row_id=str(patient.pk))
    with pytest.raises(DatabaseError, match="cannot be changed"), transaction.atomic():
        clinical.update(before=None, after=None)
