from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction

from analytics.models import CaseToWeigh, EndpointChoice, LossAlert, LossAlertStep
from analytics.services import loss_alerts
from analytics.services.definitions import choose_definition
from followup.models import Reading
from followup.services import films
from registry.models import Person, Procedure
from registry.services import erasure, patients, voiding
from tests import builders
from tests.analytics.losses import alerted, operated, weigh
from tests.analytics.records import reading
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")
WORKERS = 6


def again(first: Reading, injured: str) -> Reading:
    """Let the reader of a film correct what they measured."""
    return films.record_reading(
        film=first.film,
        values={"ccd_injured_mm": injured},
        reader=first.reader,
        by=first.reader,
        now=NOW,
        today=TODAY,
    )


def standing() -> list[tuple[str, str]]:
    return list(LossAlert.objects.order_by("id").values_list("level", "state"))


def test_a_reading_marks_its_case_in_its_own_transaction() -> None:
    done = operated()
    weigh()
    assert not CaseToWeigh.objects.exists()
    with transaction.atomic():
        reading(done, 90, "14.0")
        transaction.set_rollback(True)
    assert not CaseToWeigh.objects.exists()
    reading(done, 90, "14.0")
    assert CaseToWeigh.objects.get().injury_id == done.injury_id


def test_a_reading_that_shows_a_loss_raises_one_alert_for_who_operated(surgeon: Person) -> None:
    alert = alerted("14.0", surgeon=surgeon)
    assert (alert.level, alert.state, alert.surgeon, alert.version) == ("lost", "open", surgeon, 1)
    assert (alert.definition_id, alert.definition_version) == ("rise-3mm", 1)
    assert (alert.measure, alert.error, alert.threshold) == (5.0, 2.0, 3.0)
    assert alert.film.taken_on == alert.procedure.performed_on + timedelta(days=90)
    step = LossAlertStep.objects.get(alert=alert)
    assert (step.kind, step.by) == ("raised", None)
    assert "5.0 mm above the first film" in step.words


@pytest.mark.parametrize(
    ("injured", "found"),
    [
        ("9.9", []),
        ("10.0", [("near", "open")]),
        ("12.0", [("near", "open")]),
        ("12.1", [("lost", "open")]),
    ],
)
def test_a_film_at_the_threshold_is_near_and_so_is_one_a_detectable_change_below(
    injured: str, found: list[tuple[str, str]]
) -> None:
    done = operated()
    reading(done, 90, injured)
    counts = weigh()
    assert standing() == found
    assert counts["cases weighed"] == 1
    assert counts["alerts raised"] == len(found)


def test_weighing_twice_and_a_second_reading_that_says_the_same_change_nothing() -> None:
    done = operated()
    first = reading(done, 90, "14.0")
    weigh()
    assert weigh() == {
        "cases weighed": 0,
        "alerts raised": 0,
        "alerts taken back": 0,
        "failed": 0,
    }
    again(first, "14.0")
    assert weigh()["cases weighed"] == 1
    reading(done, 120, "14.2")
    assert weigh()["alerts raised"] == 0
    assert standing() == [("lost", "open")]
    assert LossAlertStep.objects.count() == 1


def test_a_correction_takes_the_alert_back_and_says_why() -> None:
    done = operated()
    first = reading(done, 90, "14.0")
    weigh()
    again(first, "9.4")
    assert weigh()["alerts taken back"] == 1
    alert = LossAlert.objects.get()
    assert (alert.state, alert.closed_at, alert.version) == ("taken_back", NOW, 2)
    assert alert.closed_because.startswith("Held: on the Zanca film of")
    assert list(alert.steps.values_list("kind", flat=True)) == ["raised", "taken_back"]


def test_what_is_lost_again_after_it_was_taken_back_is_told_again() -> None:
    done = operated()
    first = reading(done, 90, "14.0")
    weigh()
    again(first, "9.4")
    weigh()
    reading(done, 120, "14.1")
    weigh()
    assert standing() == [("lost", "taken_back"), ("lost", "open")]


def test_near_gives_way_to_lost_and_lost_to_near() -> None:
    done = operated()
    first = reading(done, 90, "11.5")
    weigh()
    again(first, "14.0")
    weigh()
    assert standing() == [("near", "taken_back"), ("lost", "open")]
    again(Reading.objects.get(film=first.film, superseded_by__isnull=True), "11.0")
    weigh()
    assert standing() == [("near", "taken_back"), ("lost", "taken_back"), ("near", "open")]


def test_a_planned_alert_that_is_no_longer_so_is_taken_back_with_its_plan() -> None:
    done = operated()
    first = reading(done, 90, "14.0")
    weigh()
    LossAlert.objects.update(state="planned", plan="revise", due_on=TODAY)
    again(first, "9.0")
    weigh()
    alert = LossAlert.objects.get()
    assert (alert.state, alert.plan) == ("taken_back", "revise")


def test_a_revision_a_death_and_a_void_end_what_was_to_be_warned_of() -> None:
    revised, died, wrong = alerted(), alerted(), alerted()
    builders.procedure(
        revised.procedure.injury,
        {"construct_type": "HP"},
        kind="revision_fixation",
        revises=revised.procedure,
        performed_on=TODAY,
    )
    whose = died.procedure.injury.patient
    patients.change_status(
        patient=whose,
        status="died",
        on=TODAY,
        expected_version=whose.version,
        note="told by the family",
        by=whose.recorded_by,
        now=NOW,
        today=TODAY,
    )
    voiding.void_row(
        row=wrong.procedure,
        reason="entered twice",
        expected_version=1,
        by=wrong.procedure.recorded_by,
        now=NOW,
    )
    assert weigh()["alerts taken back"] == 3
    said = {alert.pk: alert.closed_because for alert in LossAlert.objects.all()}
    assert "a revision fixation followed on 25 Nov 2026" in said[revised.pk]
    assert "the patient died on 25 Nov 2026" in said[died.pk]
    assert "the operation is void" in said[wrong.pk]


def test_another_definition_of_the_site_judges_from_then_on() -> None:
    alert = alerted("12.5")
    choose_definition(site=alert.site, definition_id="difference-5mm", on=TODAY, by=None)
    assert loss_alerts.mark_standing(now=NOW) == 1
    weigh()
    assert standing() == [("lost", "taken_back")]
    EndpointChoice.objects.all().delete()
    reading(alert.procedure, 120, "15.0")
    weigh()
    assert standing() == [("lost", "taken_back")]


def test_a_film_whose_facts_are_corrected_is_weighed_again() -> None:
    done = operated()
    film = reading(done, 90, "14.0").film
    weigh()
    films.correct_film(
        film=film,
        values={"view": "ap"},
        expected_version=film.version,
        reason="it was another view",
        by=done.recorded_by,
        now=NOW,
        today=TODAY,
    )
    assert weigh()["alerts taken back"] == 1


def test_films_of_long_ago_warn_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(loss_alerts, "NEWS_DAYS", 30)
    done = operated()
    reading(done, 90, "14.0")
    assert weigh()["alerts raised"] == 0


def test_one_case_that_cannot_be_weighed_holds_up_none_and_keeps_its_mark(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    bad, good = operated(), operated()
    for one in (bad, good):
        reading(one, 90, "14.0")
    true = loss_alerts._settle

    def falls_over(injury_id: int, *rest: Any) -> tuple[int, int]:
        if injury_id == bad.injury_id:
            raise ValueError("cannot be judged")
        return true(injury_id, *rest)

    monkeypatch.setattr(loss_alerts, "_settle", falls_over)
    counts = weigh()
    assert (counts["failed"], counts["alerts raised"]) == (1, 1)
    assert set(CaseToWeigh.objects.values_list("injury_id", flat=True)) == {bad.injury_id}
    assert "cannot be weighed" in caplog.text
    monkeypatch.undo()
    assert weigh()["alerts raised"] == 1
    assert not CaseToWeigh.objects.exists()


def test_an_erased_patients_alerts_are_closed() -> None:
    alert = alerted()
    whose = alert.procedure.injury.patient
    erasure.erase_patient(
        patient=whose, reason="asked for", by=whose.recorded_by, now=NOW, today=TODAY
    )
    alert.refresh_from_db()
    assert (alert.state, alert.closed_because) == ("taken_back", "erased on request")


def test_the_database_lets_one_alert_of_a_kind_stand() -> None:
    alert = alerted()
    alert.pk = None
    with pytest.raises(IntegrityError), transaction.atomic():
        alert.save(force_insert=True)


@pytest.mark.needs_postgres
@pytest.mark.django_db(transaction=True)
def test_readings_and_workers_at_the_same_moment_raise_one_alert() -> None:
    builders.load_defaults()
    done = operated()
    weigh()
    line = Barrier(WORKERS)
    mm = ["14.0", "14.2", "13.9", "14.4", "14.1", "15.0"]

    def one(number: int) -> None:
        own = Procedure.objects.select_related("injury", "recorded_by").get(pk=done.pk)
        line.wait(timeout=300)
        try:
            reading(own, 90 + number, mm[number])
            weigh()
        finally:
            connection.close()

    all_at_once(one)
    weigh()
    assert standing() == [("lost", "open")]
    assert not CaseToWeigh.objects.exists()


def all_at_once(work: Callable[[int], object]) -> None:
    with ThreadPoolExecutor(WORKERS) as pool:
        list(pool.map(work, range(WORKERS)))
