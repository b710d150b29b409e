"""The only way to save a clinical row."""

from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.db import DataError, IntegrityError, transaction

from registry.errors import BadInput, StaleVersion
from registry.models import AuditEntry, Identifier, Injury, Patient
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


def test_saving_over_a_newer_version_is_refused_and_changes_nothing() -> None:
    hurt = builders.injury()
    mine, theirs = Injury.objects.get(pk=hurt.pk), Injury.objects.get(pk=hurt.pk)
    editor = builders.person("ada")
    records.save(theirs, {"energy": "high"}, by=editor, now=LATER, expected_version=1)
    with pytest.raises(StaleVersion, match="you have version 1, it is now 2") as refusal:
        records.save(mine, {"energy": "low"}, by=editor, now=LATER, expected_version=1)
    assert (refusal.value.expected, refusal.value.current) == (1, 2)
    assert Injury.objects.get(pk=hurt.pk).energy == "high"


def test_a_row_is_held_in_the_version_that_was_seen_and_in_no_other() -> None:
    row = builders.injury()
    by, version = row.recorded_by, row.version
    with records.change(by=by):
        records.hold(row, expected_version=version)
    records.save(row, {"mechanism": "bicycle"}, by=by, now=NOW, expected_version=version)
    with pytest.raises(StaleVersion), records.change(by=by):
        records.hold(row, expected_version=version)


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


def test_a_refusal_of_the_database_says_its_rule_and_none_of_the_values() -> None:
    class Told(Exception):
        diag = SimpleNamespace(constraint_name="registry_patient_key_key")

    told = "duplicate key value violates a rule\nDETAIL: Key (name)=(Quillfeather) already exists."
    fault = IntegrityError(told)
    assert records.refusal_of(fault) == "duplicate key value violates a rule"
    fault.__cause__ = Told()
    assert records.refusal_of(fault) == "it breaks the rule registry_patient_key_key"
    assert "1975" not in records.refusal_of(DataError('out of range: "1975-13-01"'))


def test_a_row_that_the_database_refuses_is_told_without_its_values(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    hurt = builders.injury()

    def refuses(*given: object, **values: object) -> None:
        raise IntegrityError("it breaks a rule\nDETAIL: Failing row contains (Quillfeather).")

    monkeypatch.setattr(records.notices.row_written, "send", refuses)
    by = hurt.recorded_by
    with pytest.raises(BadInput, match="it breaks a rule") as refusal:
        records.save(hurt, {"energy": "high"}, by=by, now=LATER, expected_version=1)
    assert "Quillfeather" not in str(refusal.value)


def test_what_carries_no_version_is_checked_and_told_by_its_field() -> None:
    patient = builders.injury().patient
    given = {"patient": patient, "site": patient.site, "issuing_system": "ward list"}
    kept = records.put(Identifier(**given, value="7"))
    assert records.under(Identifier, patient=patient)[-1] == kept
    with pytest.raises(BadInput) as refused:
        records.put(Identifier(**given, value="7" * 61))
    assert "value" in refused.value.faults
    with pytest.raises(BadInput):
        records.put(Identifier(**given, value="7"))


def test_what_hangs_on_a_row_comes_in_order_and_without_what_is_void() -> None:
    hurt = builders.injury()
    second = builders.injury(hurt.patient)
    assert records.under(Injury, "site", patient=hurt.patient) == [hurt, second]
    by = hurt.recorded_by
    records.void(hurt, by=by, now=LATER, expected_version=1, reason="wrong patient")
    assert records.under(Injury, patient=hurt.patient) == [second]
