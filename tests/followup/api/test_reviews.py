"""Reviews over the interface: read, booked, missed, ended, visited."""

from collections.abc import Callable
from datetime import date, time
from typing import Any

import pytest

from followup.models import Clinic, ContactAttempt, HardwareDecision, Reading, Review, Score
from registry.models import Person, Procedure
from tests import builders
from tests.api import Program, cost, signed_in

pytestmark = pytest.mark.usefixtures("defaults")
URL = "/api/v1/reviews/"


@pytest.fixture
def api(coordinator: Person) -> Program:
    return signed_in(coordinator)


@pytest.fixture
def theatre(surgeon: Person) -> Program:
    return signed_in(surgeon)


def operated(on: date = date(2026, 11, 2)) -> Procedure:
    """Return an operation whose first reviews are still to come."""
    hurt = builders.injury(injured_earliest=date(2026, 11, 1), injured_latest=date(2026, 11, 1))
    return builders.procedure(hurt, performed_on=on)


def review_of(procedure: Procedure, **wanted: Any) -> Review:
    found: Review = Review.objects.filter(procedure=procedure, **wanted).earliest("due_on")
    return found


def clinic() -> Clinic:
    """Return a clinic of every Monday."""
    return Clinic.objects.create(
        site=builders.site(),
        name="Shoulder clinic",
        weekday=0,
        starts_at=time(9),
        slots=8,
        surgeon=builders.person("selma", north="surgeon"),
    )


def slot(on: str = "2026-12-07", **changes: Any) -> dict[str, Any]:
    return {"clinic": clinic().pk, "on": on, "at": "09:10", **changes}


def test_a_review_says_its_window_its_state_and_what_it_is_to_collect(api: Program) -> None:
    row = review_of(operated())
    answer = api.get(f"{URL}{row.pk}/")
    assert answer["ETag"] == '"1"'
    shown = answer.json()
    assert (shown["state"], shown["step"]) == ("planned", row.step.code)
    assert shown["opens_on"] <= shown["due_on"] <= shown["closes_on"]
    assert "complication_screen" in shown["wanted"]
    assert shown["appointments"] == []


def test_a_slot_is_booked_over_the_version_that_was_read(api: Program) -> None:
    row = review_of(operated())
    url, sent = f"{URL}{row.pk}/book/", slot()
    assert api.post(url, sent).status_code == 428
    answer = api.act(url, sent)
    assert (answer.status_code, answer["ETag"], answer.json()["state"]) == (200, '"2"', "booked")
    booked = answer.json()["appointments"][0]
    assert (booked["clinic"], booked["on"], booked["surgeon"]) == (
        "Shoulder clinic",
        "2026-12-07",
        "selma",
    )
    assert api.act(url, sent).status_code == 412


def test_free_slots_are_listed_for_those_who_book(api: Program, theatre: Program) -> None:
    row = review_of(operated())
    where = clinic()
    found = api.get(f"{URL}{row.pk}/slots/").json()
    assert (found[0]["clinic"], found[0]["clinic_name"]) == (where.pk, "Shoulder clinic")
    booked = {name: found[0][name] for name in ("clinic", "on", "at")}
    assert api.act(f"{URL}{row.pk}/book/", booked).status_code == 200
    assert theatre.get(f"{URL}{row.pk}/slots/").status_code == 403


def test_a_slot_that_cannot_be_is_refused_by_its_field(api: Program) -> None:
    row = review_of(operated())
    url = f"{URL}{row.pk}/book/"
    sent = slot(on="2026-12-08")
    assert "not held on a Tuesday" in api.act(url, sent).json()["faults"]["on"][0]
    assert "in the past" in api.act(url, {**sent, "on": "2026-11-02"}).json()["faults"]["on"][0]
    assert "clinic" in api.act(url, {**sent, "clinic": 99999}).json()["faults"]
    assert Review.objects.get(pk=row.pk).state == "planned"


def test_a_booked_slot_is_cancelled_or_missed(api: Program, time_machine: Any) -> None:
    row = review_of(operated())
    sent = slot()
    api.act(f"{URL}{row.pk}/book/", sent)
    answer = api.act(f"{URL}{row.pk}/cancel/", {}, version=2)
    assert answer.json()["state"] == "planned"
    api.act(f"{URL}{row.pk}/book/", sent, version=3)
    time_machine.move_to("2026-12-07T15:00:00Z")
    answer = api.act(f"{URL}{row.pk}/missed/", {}, version=4)
    assert (answer.json()["state"], answer.json()["missed_count"]) == ("missed", 1)


def test_an_act_that_cannot_follow_is_a_conflict_that_names_both(api: Program) -> None:
    row = review_of(operated())
    answer = api.act(f"{URL}{row.pk}/missed/", {})
    assert answer.status_code == 409
    assert answer.json()["detail"] == "The review is 'planned' and cannot become 'missed'."


def test_a_review_is_ended_with_a_reason(api: Program) -> None:
    row = review_of(operated())
    url = f"{URL}{row.pk}/not-needed/"
    assert "reason" in api.act(url, {}).json()["faults"]
    answer = api.act(url, {"reason": "seen elsewhere"})
    assert (answer.json()["state"], answer.json()["ended_reason"]) == (
        "not_needed",
        "seen elsewhere",
    )


def test_a_try_at_reaching_the_patient_is_written_down(api: Program) -> None:
    row = review_of(operated())
    url = f"{URL}{row.pk}/attempt/"
    assert api.post(url, {"means": "phone", "outcome": "no_answer"}).status_code == 201
    assert "means" in api.post(url, {"means": "owl", "outcome": "no_answer"}).json()["faults"]
    assert ContactAttempt.objects.get().review_id == row.pk


def visit(**changes: Any) -> dict[str, Any]:
    return {
        "visited_on": "2026-11-24",
        "films": [
            {
                "view": "zanca",
                "posture": "upright",
                "calibration": "marker",
                "shows_both_sides": True,
                "reading": {"ccd_injured_mm": "9.1", "ccd_other_mm": "8.9", "union": "none"},
            }
        ],
        "motion": [{"side": "left", "flexion_deg": 60}],
        "scores": {"pain_nrs": 4, "sane": 50},
        "complications": [{"kind": "nerve", "grade": "I"}],
        "hardware_symptoms": "plate edge felt",
        "next_step_note": "film at 6 weeks",
        **changes,
    }


def test_a_visit_is_saved_whole(theatre: Program) -> None:
    row = review_of(operated())
    url = f"{URL}{row.pk}/visit/"
    assert theatre.post(url, visit()).status_code == 428
    answer = theatre.act(url, visit())
    assert (answer.status_code, answer.json()["state"]) == (200, "attended")
    assert answer.json()["next_step_note"] == "film at 6 weeks"
    reading = Reading.objects.get()
    assert (str(reading.ccd_injured_mm), reading.film.taken_on) == ("9.1", date(2026, 11, 24))
    assert Score.objects.count() == 2
    assert row.procedure.complications.get().detected_on == date(2026, 11, 24)
    assert HardwareDecision.objects.get().raised_because == "symptoms"
    assert theatre.act(url, visit()).status_code == 412
    assert Reading.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"visited_on": "2027-01-01"}, "visited_on"),
        ({"scores": {"tape": 4}}, "scores"),
        ({"scores": {"sane": 400}}, "sane"),
        ({"motion": [{"side": "left", "flexion_deg": 600}]}, "motion"),
        ({"films": [{"view": "zanca", "reading": {"ccd_injured_mm": "9.1"}}]}, "ccd_injured_mm"),
    ],
)
def test_a_visit_that_cannot_be_taken_saves_nothing(
    theatre: Program, changes: dict[str, Any], field: str
) -> None:
    row = review_of(operated())
    answer = theatre.act(f"{URL}{row.pk}/visit/", visit(**changes))
    assert answer.status_code == 400
    assert field in answer.json()["faults"]
    assert not Reading.objects.exists()
    assert not Score.objects.exists()
    assert Review.objects.get(pk=row.pk).state == "planned"


def test_an_unusual_finding_is_asked_about_where_it_stands(theatre: Program) -> None:
    row = review_of(operated())
    stiff = {"side": "left", "flexion_deg": 2}
    url = f"{URL}{row.pk}/visit/"
    answer = theatre.act(url, visit(motion=[stiff]))
    assert "unusual" in str(answer.json()["faults"]["motion"])
    assert theatre.act(url, visit(motion=[{**stiff, "checked": True}])).status_code == 200
    assert row.procedure.injury.motion_exams.get().flags == ["flexion_deg"]


def test_each_act_has_its_role(api: Program, theatre: Program, quality_lead: Person) -> None:
    row = review_of(operated())
    assert api.act(f"{URL}{row.pk}/visit/", visit()).status_code == 403
    assert theatre.act(f"{URL}{row.pk}/book/", slot()).status_code == 403
    assert signed_in(quality_lead).get(URL).status_code == 403


def test_another_sites_review_is_not_there(api: Program) -> None:
    theirs = builders.procedure(builders.injury(builders.patient(at=builders.site("south"))))
    row = review_of(theirs)
    assert api.get(f"{URL}{row.pk}/").status_code == 404
    assert api.act(f"{URL}{row.pk}/not-needed/", {"reason": "x"}).status_code == 404


def test_reviews_are_filtered(api: Program) -> None:
    row = operated()
    builders.procedure()
    first = review_of(row)

    def found(**wanted: Any) -> int:
        return int(api.get(URL, wanted).json()["count"])

    mine = Review.objects.filter(procedure=row).count()
    assert (found(procedure=row.pk), found(patient=row.injury.patient.key)) == (mine, mine)
    assert found(state="attended") == 0
    assert found(complete="false") == found()
    assert found(step=first.step.code) == 2
    assert found(due_from="2028-01-01") + found(due_to="2027-12-31") == found()
    assert found(closes_from="2028-01-01") + found(closes_to="2027-12-31") == found()


def test_a_page_costs_the_same_whatever_lies_behind_it(
    api: Program, counted: Callable[[], Any]
) -> None:
    sent = slot()
    api.act(f"{URL}{review_of(operated()).pk}/book/", sent)
    few = cost(api, URL, counted)
    for at in ("09:20", "09:30"):
        api.act(f"{URL}{review_of(operated()).pk}/book/", {**sent, "at": at})
    for _ in range(6):
        operated()
    assert cost(api, URL, counted) == few
