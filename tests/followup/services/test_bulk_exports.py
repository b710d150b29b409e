import json
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from io import BytesIO
from pathlib import Path
from threading import Event
from typing import Any

import pytest
from django.core.files.storage import default_storage
from django.db import connection, transaction
from django.utils import timezone

from followup.exchange.fhir import search
from followup.exchange.fhir.kinds import KINDS
from followup.models import BulkExport, BulkFile
from followup.services import bulk_exports, import_checks, import_runs
from registry.models import AuditEntry, Injury, Membership, Person, Procedure
from registry.services import erasure, jobs, records
from tests import builders, many, world
from tests.builders import NOW, TODAY
from tests.fhir import valid
from tests.followup.case_files import case
from tests.followup.sent_files import connie, sent_ours
from tests.racing import somebody_waits

pytestmark = pytest.mark.django_db
TYPES = (*KINDS, search.CODE_SYSTEM)


@pytest.fixture(autouse=True)
def files(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


@pytest.fixture
def lead() -> Person:
    return builders.person("lead", north="quality_lead")


def ask(by: Person, *types: str, **given: Any) -> BulkExport:
    about = {"since": None, "request": "https://x/fhir/r4/$export", "by": by, "now": NOW, **given}
    return bulk_exports.ask(types=types or TYPES, **about)


def made(by: Person, *types: str, **given: Any) -> BulkExport:
    export = ask(by, *types, **given)
    bulk_exports.make_waiting(now=NOW)
    export.refresh_from_db()
    assert (export.state, export.fault) == ("ready", "")
    return export


def lines(export: BulkExport, kind: str, *, is_error: bool = False) -> list[dict[str, Any]]:
    opened = bulk_exports.open_file(
        export=export, kind=kind, is_error=is_error, by=export.asked_by, now=NOW
    )
    assert opened is not None
    with opened:
        return [json.loads(line) for line in BytesIO(opened.read())]


def test_a_copy_holds_every_resource_once_a_line_each_and_valid(
    defaults: None, lead: Person
) -> None:
    things = world.one_of_each("north")
    many.grow(things, 1, 10)
    export = made(lead)
    assert {one.kind for one in export.files.all()} == set(TYPES)
    for kind in KINDS:
        rows = lines(export, kind)
        ids = Counter(one["id"] for one in rows)
        assert max(ids.values(), default=0) <= 1
        assert export.files.get(kind=kind).resources == len(rows)
        for one in rows[:5]:
            assert valid(one)["resourceType"] == kind
    assert len(lines(export, "Condition")) == Injury.objects.filter(site__code="north").count()


def test_without_the_right_to_names_the_copy_names_nobody(defaults: None, lead: Person) -> None:
    world.one_of_each("north")
    marks = world.marks_of(builders.site("north"))
    export = made(lead)
    said = "".join(json.dumps(lines(export, kind)) for kind in TYPES)
    assert not {mark for mark in marks if mark in said}
    assert lines(export, "Task") == lines(export, "Appointment") == []
    assert export.names_at == []


def test_with_both_rights_names_are_in_it_for_those_sites_alone() -> None:
    both = builders.person("both", north="quality_lead+surgeon", south="quality_lead")
    builders.patient(family_name="Northern")
    builders.patient(builders.site("south"), family_name="Southern")
    said = json.dumps(lines(made(both, "Patient"), "Patient"))
    assert "Northern" in said
    assert "Southern" not in said
    assert len(json.loads(said)) == 2


def test_what_changed_since_is_there_and_what_was_voided_as_an_error(lead: Person) -> None:
    old, gone = builders.injury(), builders.injury()
    later = NOW + timedelta(hours=2)
    records.void(gone, by=gone.recorded_by, now=later, expected_version=1, reason="twice")
    export = made(lead, "Condition", since=NOW + timedelta(hours=1))
    (only,) = lines(export, "Condition")
    assert only["id"] == str(gone.pk)
    assert only["verificationStatus"]["coding"][0]["code"] == "entered-in-error"
    (kept,) = lines(made(lead, "Condition"), "Condition")
    assert kept["id"] == str(old.pk)


def test_what_was_committed_while_the_last_copy_was_asked_for_is_not_lost(lead: Person) -> None:
    builders.injury()
    assert len(lines(made(lead, "Condition", since=NOW + timedelta(seconds=30)), "Condition")) == 1


def test_what_an_import_lands_after_a_copy_is_in_the_next_one(
    defaults: None, lead: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(import_checks, "CHUNK", 1)
    draft = sent_ours(case(1), case(2))
    import_runs.start(draft, by=connie(), now=NOW)
    between: list[datetime] = []

    def look() -> None:
        # What goes before each part: the second one, when the first has landed.
        if Procedure.objects.count() == 1 and not between:
            between.append(timezone.now())

    import_runs.land(draft, today=TODAY, now=NOW, beat=look)
    first, second = Procedure.objects.order_by("pk")
    since = between[0] + bulk_exports.OVERLAP
    kinds = ("Condition", "Procedure", "Patient")
    export = made(lead, *kinds, since=since)
    assert [one["id"] for one in lines(export, "Procedure")] == [str(second.pk)]
    assert [one["id"] for one in lines(export, "Condition")] == [str(second.injury_id)]
    assert [one["id"] for one in lines(export, "Patient")] == [second.injury.patient.key]
    assert first.changed_at == second.changed_at == NOW


class Killed(BaseException):
    """The end of a worker's process."""


def test_a_worker_that_died_leaves_nothing_half_and_the_next_goes_on(
    lead: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    for _ in range(7):
        builders.procedure()
    monkeypatch.setattr(bulk_exports, "CHUNK", 2)
    export = ask(lead, "Condition", "Procedure")
    written = search.streamed
    died: list[str] = []

    def dies_in_the_middle(kind: Any, *given: Any) -> Any:
        for number, chunk in enumerate(written(kind, *given)):
            if kind.name == "Procedure" and number == 2 and not died:
                died.append(kind.name)
                raise Killed
            yield chunk

    monkeypatch.setattr(search, "streamed", dies_in_the_middle)
    with pytest.raises(Killed):
        bulk_exports.make_waiting(now=NOW)
    assert [one.kind for one in BulkFile.objects.all()] == ["Condition"]
    # A file that was stored and not noted, as a death between the two leaves it.
    default_storage.save(
        f"{bulk_exports.FOLDER}/{export.uuid}/Procedure.ndjson", BytesIO(b'{"half":')
    )
    first = BulkFile.objects.get().stored_name
    bulk_exports.make_waiting(now=NOW)
    export.refresh_from_db()
    assert export.state == "ready"
    assert export.files.get(kind="Condition").stored_name == first
    ids = [one["id"] for one in lines(export, "Procedure")]
    assert len(ids) == len(set(ids)) == 7


def test_a_copy_begins_anew_where_the_asker_lost_a_site_before_its_end(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    both = builders.person("both", north="quality_lead+surgeon", south="quality_lead+surgeon")
    builders.patient(family_name="Northern")
    builders.injury(builders.patient(builders.site("south"), family_name="Southern"))
    export = ask(both, "Patient", "Condition")
    written = search.streamed

    def dies(kind: Any, *given: Any) -> Any:
        if kind.name == "Condition":
            raise Killed
        yield from written(kind, *given)

    with monkeypatch.context() as patched:
        patched.setattr(search, "streamed", dies)
        with pytest.raises(Killed):
            bulk_exports.make_waiting(now=NOW)
    stored = BulkFile.objects.get().stored_name
    with default_storage.open(stored) as before:
        assert b"Southern" in before.read()
    Membership.objects.filter(person=both, site__code="south").delete()
    bulk_exports.make_waiting(now=NOW)
    export.refresh_from_db()
    assert export.state == "ready"
    again = Person.objects.get(pk=both.pk)
    assert bulk_exports.of_asker(uuid=export.uuid, by=again) == export
    said = json.dumps(lines(export, "Patient"))
    assert "Northern" in said
    assert "Southern" not in said
    assert lines(export, "Condition") == []


def test_a_resource_that_cannot_be_written_is_told_apart(
    lead: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    good, bad = builders.injury(), builders.injury()
    Injury.objects.filter(pk=bad.pk).update(missing={"bmi_kg_m2": "hidden"})
    export = made(lead, "Condition")
    assert [one["id"] for one in lines(export, "Condition")] == [str(good.pk)]
    (told,) = lines(export, "Condition", is_error=True)
    assert valid(told)["issue"][0]["diagnostics"].startswith(f"Condition {bad.pk}")


def test_a_cancelled_copy_is_gone_with_its_files_and_its_worker_stops(
    lead: Person, files: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    builders.injury()
    export = made(lead, "Condition")
    assert list(files.rglob("*.ndjson"))
    bulk_exports.cancel(export=export)
    assert not list(files.rglob("*.ndjson"))
    running = ask(lead, "Condition", "Procedure")
    written = search.streamed

    def cancelled_meanwhile(*given: Any) -> Any:
        BulkExport.objects.filter(pk=running.pk).delete()
        yield from written(*given)

    monkeypatch.setattr(search, "streamed", cancelled_meanwhile)
    assert bulk_exports.make_waiting(now=NOW)["cancelled"] == 1
    assert not list(files.rglob("*.ndjson"))


def test_a_copy_is_handed_to_whoever_asked_and_only_while_they_may_see_as_much(
    lead: Person,
) -> None:
    export = made(lead, "Condition")
    assert bulk_exports.of_asker(uuid=export.uuid, by=lead) == export
    other = builders.person("other", north="quality_lead")
    assert bulk_exports.of_asker(uuid=export.uuid, by=other) is None
    Membership.objects.filter(person=lead).delete()
    again = Person.objects.get(pk=lead.pk)
    assert bulk_exports.of_asker(uuid=export.uuid, by=again) is None


def test_who_lost_the_right_before_it_was_made_gets_nothing(lead: Person) -> None:
    export = ask(lead, "Condition")
    Membership.objects.filter(person=lead).delete()
    assert bulk_exports.make_waiting(now=NOW)["failed"] == 1
    export.refresh_from_db()
    assert export.fault.startswith("Your roles do not permit")


def test_three_may_wait_and_a_fourth_is_refused(lead: Person) -> None:
    for _ in range(bulk_exports.AT_ONCE):
        ask(lead, "Condition")
    with pytest.raises(bulk_exports.TooMany):
        ask(lead, "Condition")


def test_asking_and_taking_are_written_into_the_trail(lead: Person) -> None:
    builders.injury()
    lines(made(lead, "Condition"), "Condition")
    reasons = AuditEntry.objects.filter(person_id=lead.pk, action="read").values_list("reason")
    assert [one for (one,) in reasons] == [
        "a copy in FHIR asked for: Condition",
        "1 x Condition taken in FHIR, by keys alone",
    ]


def test_a_day_later_a_copy_is_forgotten(lead: Person, files: Path) -> None:
    builders.injury()
    made(lead, "Condition")
    assert bulk_exports.forget_old(now=NOW + timedelta(hours=23)) == 0
    assert bulk_exports.forget_old(now=NOW + timedelta(hours=25)) == 1
    assert not BulkExport.objects.exists()
    assert not list(files.rglob("*.ndjson"))


def test_a_long_copy_shows_life_between_its_chunks(lead: Person) -> None:
    for _ in range(3):
        builders.injury()
    ask(lead, "Condition")
    heard: list[int] = []
    with jobs.heard_by(heard.append):
        jobs.run_job("test_copies", lambda: bulk_exports.make_waiting(now=NOW), now=NOW)
    assert sum(heard) >= 3
    assert TODAY


def test_an_erasure_deletes_ready_copies_of_its_sites_and_says_why(
    lead: Person, django_capture_on_commit_callbacks: Any
) -> None:
    builders.patient()
    site = builders.site()
    there = builders.person("there", south="quality_lead")
    builders.patient(builders.site("south"))
    ours, theirs = made(lead, "Patient"), made(there, "Patient")
    name = ours.files.get().stored_name
    with django_capture_on_commit_callbacks(execute=True):
        assert bulk_exports.forget_erased(sites=[site.pk]) == 1
    for one in (ours, theirs):
        one.refresh_from_db()
    assert (ours.state, ours.fault) == ("failed", bulk_exports.ERASED)
    assert not default_storage.exists(name)
    assert theirs.state == "ready"
    assert bulk_exports.forget_erased(sites=[site.pk]) == 0


def test_a_copy_that_is_being_made_while_somebody_is_erased_is_given_up(
    lead: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    builders.patient()
    site = builders.site()
    export = ask(lead, "Patient", "Condition")
    true = bulk_exports._write

    def meanwhile(export: BulkExport, kind: str, seer: Any) -> Any:
        written = true(export, kind, seer)
        bulk_exports.forget_erased(sites=[site.pk])
        return written

    monkeypatch.setattr(bulk_exports, "_write", meanwhile)
    assert bulk_exports.make_waiting(now=NOW)["cancelled"] == 1
    export.refresh_from_db()
    assert (export.state, export.fault) == ("failed", bulk_exports.ERASED)
    assert not BulkFile.objects.exists()


def test_a_copy_that_is_asked_for_and_begun_before_an_erasure_ends_is_given_up_after_it(
    lead: Person, django_capture_on_commit_callbacks: Any
) -> None:
    builders.patient()
    before = ask(lead, "Patient")
    with django_capture_on_commit_callbacks(execute=True):
        assert bulk_exports.forget_erased(sites=[builders.site().pk]) == 0
        meanwhile = ask(lead, "Patient")
        assert bulk_exports.make_waiting(now=NOW)["copies made"] == 2
        name = meanwhile.files.get().stored_name
    for one in (before, meanwhile):
        one.refresh_from_db()
    assert (meanwhile.state, meanwhile.fault) == ("failed", bulk_exports.ERASED)
    assert not default_storage.exists(name)
    assert not meanwhile.files.exists()
    # The lock of the erasure made it wait for the end, on a database that has such locks.
    assert before.state == "ready"


@pytest.mark.needs_postgres
@pytest.mark.django_db(transaction=True)
def test_a_copy_that_waits_is_begun_only_after_an_erasure_is_over() -> None:
    patient = builders.patient(family_name="Forgotten")
    both = builders.person("both", north="quality_lead+surgeon")
    export = ask(both, "Patient")
    erasing = Event()

    def erase() -> None:
        try:
            with transaction.atomic():
                erasure.erase_patient(
                    patient=patient, reason="letter", by=both, now=NOW, today=TODAY
                )
                erasing.set()
                # Whoever does not wait for this has made the copy by then.
                copies = BulkExport.objects.filter(state="ready")
                until = time.monotonic() + 60
                while not somebody_waits() and not copies.exists() and time.monotonic() < until:
                    time.sleep(0.05)
        finally:
            erasing.set()
            connection.close()

    with ThreadPoolExecutor(1) as pool:
        done = pool.submit(erase)
        assert erasing.wait(timeout=300)
        assert bulk_exports.make_waiting(now=NOW)["copies made"] == 1
        done.result()
    assert "Forgotten" not in json.dumps(lines(export, "Patient"))
