"""The only way to save a clinical row."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from registry.errors import BadInput, StaleVersion
from registry.models import AuditEntry, Injury, Patient
from registry.services import records
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=1)


def test_creating_carries_site_who_when_and_the_first_version() -> None:
    hurt = builders.injury()
    assert (hurt.version, hurt.recorded_at, hurt.changed_at) == (1, NOW, NOW)
    assert hurt.site == builders.site()
    assert hurt.recorded_by == hurt.changed_by == builders.person("recorder")


def test_saving_raises_the_version_and_says_who_and_why_in_the_trail() -> None:
    hurt = builders.injury()
    editor = builders.person("ada")
    records.save(
        hurt, {"energy": "high"}, by=editor, now=LATER, expected_version=1, reason="seen on film"
    )
    fresh = Injury.objects.get(pk=hurt.pk)
    assert (fresh.energy, fresh.version, fresh.changed_by) == ("high", 2, editor)
    entry = AuditEntry.objects.filter(table="registry_injury").latest("id")
    assert (entry.before["energy"], entry.after["energy"]) == ("unknown", "high")
    assert (entry.person_id, entry.reason) == (editor.pk, "seen on film")
    assert entry.position is not None


def test_saving_over_a_newer_version_is_refused_and_changes_nothing() -> None:
    hurt = builders.injury()
    mine, theirs = Injury.objects.get(pk=hurt.pk), Injury.objects.get(pk=hurt.pk)
    editor = builders.person("ada")
    records.save(theirs, {"energy": "high"}, by=editor, now=LATER, expected_version=1)
    with pytest.raises(StaleVersion, match="you have version 1, it is now 2") as refusal:
        records.save(mine, {"energy": "low"}, by=editor, now=LATER, expected_version=1)
    assert (refusal.value.expected, refusal.value.current) == (1, 2)
    assert Injury.objects.get(pk=hurt.pk).energy == "high"


def test_a_value_that_the_model_refuses_is_named_by_its_field() -> None:
    hurt = builders.injury()
    with pytest.raises(BadInput) as refusal:
        records.save(hurt, {"energy": "huge"}, by=hurt.recorded_by, now=LATER, expected_version=1)
    assert "energy" in refusal.value.faults


def test_a_voided_row_leaves_every_count_and_stays_in_the_table() -> None:
    hurt = builders.injury()
    records.void(hurt, by=hurt.recorded_by, now=LATER, expected_version=1, reason="wrong patient")
    assert not Injury.objects.filter(pk=hurt.pk).exists()
    kept = Injury.everything.get(pk=hurt.pk)
    assert (kept.void_reason, kept.voided_at, kept.version) == ("wrong patient", LATER, 2)


def test_voiding_without_a_reason_is_refused() -> None:
    hurt = builders.injury()
    with pytest.raises(BadInput, match="Say why"):
        records.void(hurt, by=hurt.recorded_by, now=LATER, expected_version=1, reason="  ")


def test_a_voided_row_cannot_be_saved_again() -> None:
    hurt = builders.injury()
    records.void(hurt, by=hurt.recorded_by, now=LATER, expected_version=1, reason="wrong")
    with pytest.raises(StaleVersion):
        records.save(hurt, {"energy": "low"}, by=hurt.recorded_by, now=LATER, expected_version=1)


def test_voiding_all_leaves_out_what_is_void_already() -> None:
    one, two = builders.injury(), builders.injury()
    by = one.recorded_by
    records.void(one, by=by, now=NOW, expected_version=1, reason="first")
    both = Injury.everything.filter(pk__in=[one.pk, two.pk])
    assert records.void_all(both, by=by, now=LATER, reason="second") == 1
    assert set(both.values_list("void_reason", flat=True)) == {"first", "second"}


def test_a_change_that_fails_leaves_neither_row_nor_entry() -> None:
    by = builders.person("ada", north="surgeon")
    entries, patients = AuditEntry.objects.count(), Patient.everything.count()

    def fail_halfway() -> None:
        with records.change(by=by):
            records.create(Patient(site=builders.site()), by=by, now=NOW)
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail_halfway()
    assert (AuditEntry.objects.count(), Patient.everything.count()) == (entries, patients)


def test_nested_changes_belong_to_the_outermost_person_and_reason() -> None:
    place = builders.site()
    ada, otto = builders.person("ada"), builders.person("otto")
    with records.change(by=ada, reason="outer"), records.change(by=otto, reason="inner"):
        place.name = "Elsewhere"
        place.save()
    entry = AuditEntry.objects.latest("id")
    assert (entry.person_id, entry.reason) == (ada.pk, "outer")


def test_the_database_refuses_a_void_without_its_reason() -> None:
    hurt = builders.injury()
    with pytest.raises(IntegrityError), transaction.atomic():
        Injury.everything.filter(pk=hurt.pk).update(voided_at=NOW, voided_by=hurt.recorded_by)
