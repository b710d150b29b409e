"""An import is taken back as a whole, until something builds on it."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest
from django.apps import apps
from django.db.models import ForeignKey

from followup.models import (
    Complication,
    Film,
    HardwareDecision,
    Message,
    MotionExam,
    Reading,
    Review,
    Score,
)
from followup.models.films import Film as FilmRow
from followup.models.imports import ImportDraft
from followup.services import (
    complications,
    films,
    import_runs,
    import_undo,
    import_work,
    imported_cases,
    reviews,
)
from registry.errors import BadInput, IllegalTransition
from registry.models import (
    Classification,
    Construct,
    ImportBatch,
    ImportRow,
    Injury,
    Patient,
    Procedure,
)
from registry.models.hospital_messages import HospitalRecord
from registry.services import enrolment, merges, patients, voiding
from registry.services.background import background_person
from tests import builders, outbox, trailed
from tests.builders import NOW, TODAY
from tests.followup.case_files import case
from tests.followup.sent_files import connie, decide, landed, sent_ours
from tests.followup.services.test_import_runs import stop_at_second_part, twins

pytestmark = pytest.mark.usefixtures("defaults")
LATER = NOW + timedelta(days=1)
COUNTED: tuple[Any, ...] = (
    Patient,
    Injury,
    Classification,
    Procedure,
    Construct,
    Film,
    Reading,
    MotionExam,
    Score,
    Complication,
    Review,
    HardwareDecision,
)
FULL = {
    "neer": "IIB",
    "film_view": "zanca",
    "film_calibration": "marker",
    "baseline_film_date": "2025-02-08",
    "baseline_ccd_injured_mm": "9.1",
    "f6w_date": "2025-03-20",
    "f6w_pain": "3",
    "f6w_flexion_deg": "110",
    "complication_1_kind": "stiffness",
    "complication_1_date": "2025-06-20",
}


@pytest.fixture(autouse=True)
def own_folder(settings: Any, tmp_path: Any) -> None:
    settings.MEDIA_ROOT = tmp_path


def counts() -> list[int]:
    return [model.objects.count() for model in COUNTED]


def take_back(batch: ImportBatch, **how: Any) -> None:
    given = {"reason": "of another hospital", "by": connie(), "now": LATER, "today": TODAY}
    import_undo.take_back(batch=batch, **(given | how))


def test_counts_are_as_before_and_the_same_file_can_be_imported_again() -> None:
    landed(sent_ours(case(1)))
    before = counts()
    rows = (case(2, **FULL), case(3, removal_date="2025-06-01", construct_type="HP"))
    batch = landed(sent_ours(*rows))
    assert batch.rows_landed == 2
    with_it = counts()
    take_back(batch)
    assert counts() == before
    assert (batch.state, batch.undone_because) == ("undone", "of another hospital")
    assert batch.rows_read == batch.rows_landed == 2
    assert landed(sent_ours(*rows)).rows_landed == 2
    assert counts() == with_it
    assert trailed.holds()


def test_who_was_known_before_stays_and_is_under_follow_up_again() -> None:
    landed(sent_ours(case(1)))
    before = counts()
    batch = landed(sent_ours(case(1, side="right", died_on="2026-01-05")))
    patient = Patient.objects.get()
    assert patient.status == "died"
    take_back(batch)
    patient.refresh_from_db()
    assert (patient.status, patient.voided_at, counts()) == ("active", None, before)
    assert patient.identifiers.get().value == "000001"


def ended_before() -> Patient:
    """Return a patient of whose death the site knew before any file said so."""
    landed(sent_ours(case(1)))
    patient = Patient.objects.get()
    patients.change_status(
        patient=patient,
        status="died",
        on=date(2026, 1, 5),
        note="",
        expected_version=patient.version,
        by=connie(),
        now=NOW,
        today=TODAY,
    )
    before = NOW - timedelta(days=9)
    Patient.objects.update(recorded_at=before, changed_at=before)
    return patient


DIED = {"side": "right", "died_on": "2026-01-05"}


def test_whose_follow_up_had_ended_before_does_not_come_back() -> None:
    patient, before = ended_before(), counts()
    batch = landed(sent_ours(case(1, **DIED), case(2, died_on="2026-01-05")))
    rows = ImportRow.objects.filter(batch=batch).order_by("line")
    assert list(rows.values_list("ended_as", flat=True)) == ["", "died"]
    take_back(batch)
    patient.refresh_from_db()
    assert (patient.status, str(patient.status_on), patient.version) == ("died", "2026-01-05", 2)
    assert counts() == before


def test_it_does_not_either_where_an_older_ledger_says_that_the_row_ended_it() -> None:
    patient = ended_before()
    batch = landed(sent_ours(case(1, **DIED)))
    ImportRow.objects.filter(batch=batch).update(ended_as="died", ended_on="2026-01-05")
    take_back(batch)
    patient.refresh_from_db()
    assert patient.status == "died"


def test_a_row_that_ended_it_is_known_as_such_when_its_end_is_recorded_twice() -> None:
    draft = sent_ours(case(1, died_on="2026-01-05"), case(2, birth_date="soon"))
    batch = landed(draft)
    draft.refresh_from_db()
    given = imported_cases.saving_for(
        builders.site(), by=batch.started_by, now=batch.started_at, today=TODAY
    )
    import_runs._settle(draft, batch, given, lambda: None)
    row = ImportRow.objects.get(batch=batch, line=2)
    assert row.ended_as == "died"


def test_a_number_that_was_given_to_a_known_patient_is_taken_away_again() -> None:
    landed(sent_ours(case(1)))
    draft = sent_ours({**twins()[1], "side": "right"}, case(3))
    decide(draft, "same")
    batch = landed(draft)
    assert batch.rows_landed == 2
    assert Patient.objects.get(identifiers__value="000001").identifiers.count() == 2
    take_back(batch)
    assert Patient.objects.get().identifiers.count() == 1


def injury() -> Injury:
    found: Injury = Injury.objects.select_related("site", "patient").get()
    return found


def _review() -> None:
    row = Review.objects.filter(state="planned").order_by("due_on")[0]
    reviews.mark_not_needed(
        review=row,
        reason="seen elsewhere",
        expected_version=row.version,
        by=connie(),
        now=LATER,
    )


def _film() -> None:
    films.record_film(
        injury=injury(),
        values={"taken_on": date(2025, 5, 1), "view": "zanca"},
        by=connie(),
        now=LATER,
        today=TODAY,
    )


def _complication() -> None:
    complications.record_complication(
        procedure=Procedure.objects.get(),
        values={"kind": "nerve", "detected_on": date(2025, 5, 1)},
        by=connie(),
        now=LATER,
        today=TODAY,
    )


def _injury() -> None:
    enrolment.record_injury(
        patient=injury().patient,
        site=builders.site(),
        values={
            "kind": "ac_joint",
            "side": "right",
            "injured_earliest": date(2026, 1, 1),
            "injured_latest": date(2026, 1, 1),
        },
        classes={},
        by=connie(),
        now=LATER,
        today=TODAY,
    )


def _status() -> None:
    patient = injury().patient
    patients.change_status(
        patient=patient,
        status="moved",
        on=date(2026, 5, 5),
        note="",
        expected_version=patient.version,
        by=connie(),
        now=LATER,
        today=TODAY,
    )


def _identity() -> None:
    identity = injury().patient.identity
    patients.correct_identity(
        identity=identity,
        values={"family_name": "Berg"},
        expected_version=identity.version,
        by=connie(),
        now=LATER,
        today=TODAY,
    )


def _number() -> None:
    patients.add_identifier(
        patient=injury().patient,
        site=builders.site(),
        given=enrolment.IdentifierGiven("insurance", "77"),
        by=connie(),
    )


def _merge() -> None:
    kept, merged = builders.patient(builders.site(), connie()), injury().patient
    merges.merge_patients(
        kept=kept,
        merged=merged,
        reason="the same passport",
        kept_version=kept.version,
        merged_version=merged.version,
        by=connie(),
        now=LATER,
    )


def _message() -> None:
    review = Review.objects.filter(state="planned")[0]
    row = outbox.put(review, key="x")
    Message.objects.filter(pk=row.pk).update(state="sent", sent_at=LATER)


@pytest.mark.parametrize(
    ("build", "says"),
    [
        (_review, "review changed on"),
        (_film, "film recorded on"),
        (_complication, "complication recorded on"),
        (_injury, "injury recorded on"),
        (_status, "patient changed on"),
        (_identity, "name, birth date or contact were corrected"),
        (_number, "was given a further number"),
        (_merge, "was merged into"),
        (_message, "a message went (sent)"),
    ],
)
def test_what_builds_on_it_keeps_it_and_is_named(build: Callable[[], None], says: str) -> None:
    batch = landed(sent_ours(case(1)))
    key = injury().patient.key
    build()
    before = counts()
    with pytest.raises(BadInput, match="Something builds on this import") as refused:
        take_back(batch)
    assert says in str(refused.value)
    assert key in str(refused.value)
    assert counts() == before
    batch.refresh_from_db()
    assert batch.state == "done"


def test_what_the_background_did_by_itself_builds_nothing() -> None:
    batch = landed(sent_ours(case(1)))
    Review.objects.filter(state="planned").update(
        changed_at=LATER, changed_by=background_person(), version=2
    )
    assert import_undo.what_builds_on(batch) == []


def test_what_was_voided_since_keeps_nothing() -> None:
    batch = landed(sent_ours(case(1), case(2)))
    row = Procedure.objects.all()[0]
    voiding.void_row(row=row, reason="twice", expected_version=row.version, by=connie(), now=LATER)
    take_back(batch)
    assert not Procedure.objects.exists()
    assert Procedure.everything.filter(void_reason="twice").count() == 1


def test_an_import_is_taken_back_once_and_with_a_reason() -> None:
    batch = landed(sent_ours(case(1), case(2, injury_date="2025-02-30")))
    with pytest.raises(BadInput, match="Say why"):
        take_back(batch, reason=" ")
    take_back(batch)
    assert not ImportDraft.objects.exists()
    with pytest.raises(IllegalTransition, match="'taken back'"):
        take_back(batch)


def test_the_ledger_keeps_what_it_was() -> None:
    batch = landed(sent_ours(case(1)))
    take_back(batch)
    row = ImportRow.objects.get(batch=batch)
    assert (row.fate, row.procedure.void_reason) == ("landed", "of another hospital")


def test_every_clinical_row_that_hangs_on_a_case_falls_with_it() -> None:
    falls = {model for model, _ in (*import_undo.HANGS, *import_undo.OF_PATIENT)} | {Patient}
    owners = {Injury, Procedure, Construct, FilmRow, Reading, Review}
    left = {
        model._meta.model_name
        for model in apps.get_models()
        if model not in falls and hasattr(model, "void_reason")
        for field in model._meta.fields
        if isinstance(field, ForeignKey) and field.related_model in owners
    }
    assert left == set()


def test_an_import_that_a_fault_stopped_is_taken_back(monkeypatch: pytest.MonkeyPatch) -> None:
    draft = sent_ours(*(case(n) for n in range(1, 8)))
    batch = import_runs.start(draft, by=connie(), now=NOW)
    with pytest.raises(IllegalTransition, match="'being imported'"):
        take_back(batch)
    stop_at_second_part(monkeypatch)
    import_work.work(draft, now=NOW, today=TODAY)
    assert Procedure.objects.count() == 3
    ImportDraft.objects.update(holder="somebody", held_until=LATER + timedelta(minutes=1))
    with pytest.raises(IllegalTransition, match="'being imported'"):
        take_back(batch)
    ImportDraft.objects.update(holder="", held_until=None)
    take_back(batch)
    assert not Procedure.objects.exists()
    assert not ImportDraft.objects.exists()
    assert (batch.state, batch.rows_landed, batch.rows_waiting) == ("undone", 3, 4)


def test_what_a_patient_answered_from_home_keeps_it() -> None:
    batch = landed(sent_ours(case(1)))
    Score.objects.create(
        injury=injury(),
        site=builders.site(),
        instrument="pain",
        taken_on=date(2026, 1, 5),
        value=3,
        mode="remote",
        changed_at=LATER,
        changed_by=background_person(),
        recorded_at=LATER,
        recorded_by=background_person(),
    )
    (said,) = import_undo.what_builds_on(batch)
    assert "score recorded on" in said


def test_what_the_hospitals_system_said_keeps_it() -> None:
    batch = landed(sent_ours(case(1)))
    patient = injury().patient
    HospitalRecord.objects.create(site=builders.site(), patient=patient)
    (said,) = import_undo.what_builds_on(batch)
    assert said == f"Patient {patient.key}: the hospital's system sent word of this patient."
