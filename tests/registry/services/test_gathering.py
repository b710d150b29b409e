"""What is written together stands as if it had been written row by row, or not at all."""

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from registry.errors import BadInput
from registry.models import AuditEntry, Identifier, Injury, Patient
from registry.services import gathering, records
from tests import builders, trailed
from tests.builders import NOW

pytestmark = pytest.mark.django_db


def made(number: int = 1) -> list[Patient]:
    """Create some patients."""
    site, by = builders.site(), builders.person("ada", north="surgeon")
    return [records.create(Patient(site=site), by=by, now=NOW) for _ in range(number)]


def entries() -> list[tuple[str, str, str]]:
    found = AuditEntry.objects.filter(table="registry_patient").order_by("id")
    return list(found.values_list("action", "row_id", "reason"))


def test_rows_are_written_at_the_end_and_the_trail_has_each() -> None:
    by = builders.person("ada", north="surgeon")
    with (
        records.change(by=by, reason="a list"),
        gathering.together(),
        CaptureQueriesContext(connection) as asked,
    ):
        rows = made(150)
        assert not [one for one in asked if '"registry_patient"' in one["sql"]]
    assert len({row.pk for row in rows}) == Patient.objects.count() == 150
    assert entries() == [("insert", str(row.pk), "a list") for row in rows]
    assert trailed.holds()
    (later,) = made()
    assert later.pk > max(row.pk for row in rows)


def test_a_question_about_a_table_finds_what_is_queued_for_it() -> None:
    with records.change(by=None), gathering.together():
        (row,) = made()
        assert Patient.objects.get(pk=row.pk).key == row.key
        assert Patient.objects.count() == 1


def test_a_direct_write_in_between_takes_no_number_that_was_given() -> None:
    by = builders.person("ada", north="surgeon")
    with records.change(by=None), gathering.together():
        (first,) = made()
        between = Patient(site=builders.site(), recorded_by=by, changed_by=by)
        between.recorded_at = between.changed_at = NOW
        between.save()
        (last,) = made()
    assert Patient.objects.count() == len({first.pk, between.pk, last.pk}) == 3


def test_a_change_of_a_new_row_is_written_after_it_and_both_are_in_the_trail() -> None:
    with records.change(by=None), gathering.together():
        (row,) = made()
        by = row.recorded_by
        values = {"status": "moved", "status_on": NOW.date()}
        records.save(row, values, by=by, now=NOW, expected_version=1)
        records.save(row, {"status_note": "told"}, by=by, now=NOW, expected_version=2)
    kept = Patient.objects.get()
    assert (kept.status, kept.status_note, kept.version) == ("moved", "told", 3)
    assert [action for action, _, _ in entries()] == ["insert", "update", "update"]


def test_what_hangs_on_a_new_row_is_known_without_asking() -> None:
    with records.change(by=None), gathering.together():
        (row,) = made()
        site = builders.site()
        number = Identifier(patient=row, site=site, issuing_system="hospital", value="1")
        with CaptureQueriesContext(connection) as asked:
            assert records.under(Identifier, patient=row) == []
            records.put(number)
            assert records.under(Identifier, patient=row) == [number]
        assert not [one for one in asked if '"registry_identifier"' in one["sql"]]


def test_what_somebody_else_wrote_is_asked_for() -> None:
    with records.change(by=None), gathering.together():
        (row,) = made()
        site = builders.site()
        other = Identifier.objects.create(
            patient=row, site=site, issuing_system="hospital", value="1"
        )
        mine = records.put(Identifier(patient=row, site=site, issuing_system="x", value="2"))
        assert records.under(Identifier, patient=row) == [other, mine]
        (after,) = made()
        assert records.under(Identifier, patient=after) == []


def test_what_hangs_on_an_older_row_is_asked_for() -> None:
    hurt = builders.injury()
    with records.change(by=None), gathering.together():
        assert not gathering.is_new(hurt.patient)
        assert records.under(Injury, patient=hurt.patient) == [hurt]


def test_a_refusal_of_the_database_undoes_the_whole() -> None:
    site = builders.site()

    def twice_the_same() -> None:
        with transaction.atomic(), gathering.together():
            (row,) = made()
            for _ in range(2):
                records.put(Identifier(patient=row, site=site, issuing_system="x", value="1"))

    with records.change(by=None):
        with pytest.raises(Exception, match=r"(?i)unique"):
            twice_the_same()
        assert not Patient.objects.exists()


def test_a_row_that_was_changed_meanwhile_is_not_written_over() -> None:
    (row,) = made()

    def change_what_moved_on() -> None:
        with transaction.atomic(), gathering.together():
            gathering.hold([row])
            records.save(
                row, {"status_note": "told"}, by=row.recorded_by, now=NOW, expected_version=1
            )

    Patient.objects.update(version=2)
    with records.change(by=None), pytest.raises(gathering.NotTogether):
        change_what_moved_on()
    assert Patient.objects.get().status_note == ""


def test_something_undone_in_the_middle_is_not_trusted() -> None:
    def undone_in_the_middle() -> None:
        with transaction.atomic(), gathering.together():
            made()
            with transaction.atomic():
                Patient.objects.count()
                transaction.set_rollback(True)

    with records.change(by=None), pytest.raises(gathering.NotTogether):
        undone_in_the_middle()
    assert not Patient.objects.exists()


def test_fields_are_checked_as_they_are_made() -> None:
    site, by = builders.site(), builders.person("ada", north="surgeon")
    with records.change(by=None), gathering.together(), pytest.raises(BadInput):
        records.create(Patient(site=site, status="well"), by=by, now=NOW)


def test_what_is_the_same_for_all_is_asked_once_and_outside_each_time() -> None:
    asked: list[int] = []
    for _ in range(2):
        gathering.once("key", lambda: asked.append(1))
    with records.change(by=None), gathering.together():
        for _ in range(2):
            gathering.once("key", lambda: asked.append(1))
    assert len(asked) == 3
