"""Which tables and rows an archive holds: nothing is forgotten, no reference leads nowhere."""

from typing import Any

import pytest
from django.apps import apps

from registry.models import AuditEntry, JobRun, Patient, Site
from registry.selectors import archive_scope
from tests import builders, world

# Tables of libraries and of the machine: sign-in, sessions, tokens, schedules, runs of jobs.
LEFT_OUT_APPS = {
    "auth",
    "contenttypes",
    "sessions",
    "account",
    "usersessions",
    "mfa",
    "socialaccount",
    "knox",
    "django_celery_beat",
}
LEFT_OUT = {
    "JobRun",
    "JobLock",
    "VisitPresence",
    # The watch over the door.
    *("SignInTry", "SignInEvent", "TokenScope", "TokenScope_sites"),
    # Files on their way in or out, which go by themselves after some days.
    *("ImportDraft", "ImportFinding", "ImportPair"),
    "BulkExport",
    "BulkFile",
    # The secrets of research projects.
    "ResearchKey",
    "Person_groups",
    "Person_user_permissions",
}


def test_every_table_is_archived_or_left_out_on_purpose() -> None:
    kept = set(archive_scope.archived_models())
    for model in apps.get_models(include_auto_created=True):
        out = model._meta.app_label in LEFT_OUT_APPS or model.__name__ in LEFT_OUT
        assert (model in kept) is not out, f"{model._meta.label}: is it in an archive or not?"
    assert JobRun not in kept


@pytest.fixture
def two_sites(db: None, time_machine: Any) -> None:
    time_machine.move_to(builders.NOW)
    builders.load_defaults()
    for code in ("north", "south"):
        world.one_of_each(code)


@pytest.mark.usefixtures("two_sites")
def test_what_is_of_a_site_refers_only_to_what_comes_along() -> None:
    tables = {table.model: table.rows for table in archive_scope.of_site(builders.site("north"))}
    for model, rows in tables.items():
        for column in model._meta.concrete_fields:
            target: Any = column.related_model
            if target in tables:
                wanted = set(
                    rows.exclude(**{column.attname: None}).values_list(column.attname, flat=True)
                )
                there = set(tables[target].values_list("pk", flat=True))
                assert wanted <= there, f"{model.__name__}.{column.name}"


@pytest.mark.usefixtures("two_sites")
def test_every_table_of_a_site_has_its_rows_and_none_of_the_other() -> None:
    north, south = builders.site("north"), builders.site("south")
    mine = {t.model: set(t.rows.values_list("pk", flat=True)) for t in archive_scope.of_site(north)}
    theirs = {
        t.model: set(t.rows.values_list("pk", flat=True)) for t in archive_scope.of_site(south)
    }
    for model in mine:
        if any(
            column.related_model is Site and not column.null
            for column in model._meta.concrete_fields
        ):
            assert mine[model].isdisjoint(theirs[model]), model.__name__
            everything = set(model._base_manager.values_list("pk", flat=True))
            assert mine[model] | theirs[model] == everything, model.__name__
    assert mine[Patient]
    assert mine[Site] == {north.pk}


@pytest.mark.usefixtures("two_sites")
def test_the_trail_of_a_site_is_about_its_rows() -> None:
    north = builders.site("north")
    tables = {table.model: table.rows for table in archive_scope.of_site(north)}
    keys = {
        model._meta.db_table: {str(key) for key in rows.values_list("pk", flat=True)}
        for model, rows in tables.items()
    }
    entries = list(tables[AuditEntry])
    assert len(entries) > 100
    for entry in entries:
        about = (entry.after or entry.before or {}).get("site_id") == north.pk
        assert about or entry.row_id in keys[entry.table], str(entry)
