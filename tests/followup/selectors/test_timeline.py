"""One patient's course on one line, with what is missing."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest

from followup.models import Review
from followup.selectors.timeline import Course, Entry, courses
from followup.services import (
    complications,
    contacts,
    films,
    hardware,
    motion,
    reviews,
    scores,
    visits,
)
from followup.services.visits import FilmFound, VisitFindings
from registry.models import ConstructDeparture, Patient, Person, Procedure
from registry.services import records
from tests import builders
from tests.builders import NOW, TODAY, booked

pytestmark = pytest.mark.usefixtures("defaults")

# Windows after 5 June 2026: 6w 3-31 July, 6m 5 November to 3 February, due 5 December.
DAY = date(2026, 7, 17)


def given(operation: Procedure) -> dict[str, Any]:
    return {"by": operation.recorded_by, "now": NOW, "today": TODAY}


def course_of(user: Person, operation: Procedure, today: date = TODAY) -> Course:
    (course,) = courses(user, operation.injury.patient, today)
    return course


def entry(user: Person, operation: Procedure, title: str, today: date = TODAY) -> Entry:
    """Return the one entry whose title begins so."""
    found = course_of(user, operation, today).entries
    (one,) = [line for line in found if line.title.startswith(title)]
    return one


def came(operation: Procedure, step: str = "6w", on: date = DAY, **found: Any) -> Review:
    review = operation.reviews.get(step__code=step)
    return visits.save_visit(
        review=review,
        visited_on=on,
        findings=VisitFindings(**found),
        expected_version=review.version,
        **given(operation),
    )


def end(review: Review, reason: str) -> None:
    reviews.mark_not_needed(
        review=review,
        reason=reason,
        expected_version=review.version,
        by=review.recorded_by,
        now=NOW,
    )


def whole() -> dict[str, Any]:
    return {
        "films": [FilmFound({"taken_on": DAY, "view": "zanca", "shows_both_sides": True})],
        "motion": [{"side": "left", "mode": "active", "flexion_deg": 120}],
        "score_totals": {"pain_nrs": 3.0, "quickdash": 27.5},
        "asked": ["complication_screen"],
    }


def test_the_line_goes_by_the_day_from_the_injury_on(surgeon: Person) -> None:
    operation = builders.procedure()
    came(operation, **whole())
    entries = course_of(surgeon, operation).entries
    assert [line.on for line in entries] == sorted(line.on for line in entries)
    assert (entries[0].on, entries[0].title) == (
        date(2026, 6, 1),
        "Fracture of the lateral clavicle, left",
    )
    assert entries[1].title == "Fixation"


def test_an_injury_names_its_class_and_how_well_its_day_is_known(surgeon: Person) -> None:
    known = builders.procedure(builders.injury(injured_latest=date(2026, 6, 4), classes={}))
    details = entry(surgeon, known, "Fracture of the lateral clavicle").details
    assert "not classified" in details
    assert "date known only to lie up to 2026-06-04" in details


def test_an_operation_names_its_construct_its_surgeon_and_its_departures(
    surgeon: Person,
) -> None:
    operation = builders.procedure(surgeon=surgeon)
    records.create(
        ConstructDeparture(
            construct=operation.construct,
            site=operation.site,
            check_id="lateral-screws",
            check_version=1,
            found="4 lateral screws",
            reason="small fragment",
        ),
        by=surgeon,
        now=NOW,
    )
    details = entry(surgeon, operation, "Fixation").details
    assert "Selma" in details
    assert "Departure: 4 lateral screws; reason: small fragment" in details


def test_a_film_shows_who_measured_what_and_an_unread_one_says_so(surgeon: Person) -> None:
    operation = builders.procedure()
    taken = films.record_film(
        injury=operation.injury,
        values={
            "taken_on": DAY,
            "view": "zanca",
            "calibration": "marker",
            "shows_both_sides": True,
        },
        **given(operation),
    )
    assert entry(surgeon, operation, "Zanca film").details == ("not read yet",)
    for mm in ("9.4", "9.9"):
        values = {"ccd_injured_mm": Decimal(mm), "ccd_other_mm": Decimal("8.8"), "union": "united"}
        films.record_reading(film=taken, values=values, reader=surgeon, **given(operation))
    (line,) = entry(surgeon, operation, "Zanca film").details
    assert line == (
        "CC distance 9.9 mm, other side 8.8 mm, union: united, hardware: cannot be judged, "
        "numbers typed, read by Selma"
    )


def test_motion_scores_and_complications_stand_in_words(surgeon: Person) -> None:
    operation = builders.procedure()
    came(operation, **whole())
    complications.record_complication(
        procedure=operation,
        values={"kind": "nerve", "detected_on": DAY, "grade": "I", "action": "waited"},
        **given(operation),
    )
    motion.record_motion(
        injury=operation.injury,
        values={"examined_on": DAY, "side": "right", "mode": "passive"},
        **given(operation),
    )
    assert entry(surgeon, operation, "Active motion, left").details == ("flexion 120 degrees",)
    assert entry(surgeon, operation, "Passive motion, right").details == ()
    assert entry(surgeon, operation, "QuickDASH: 27.5").on == DAY
    assert entry(surgeon, operation, "Complication: Nerve injury").details == (
        "I: no change from routine",
        "waited",
        "not resolved",
    )


def test_an_exam_behind_its_milestone_says_so_with_the_numbers(surgeon: Person) -> None:
    operation = builders.procedure()
    september = date(2026, 9, 4)
    for side, degrees in (("left", 85), ("right", 160)):
        motion.record_motion(
            injury=operation.injury,
            values={
                "examined_on": september,
                "side": side,
                "mode": "active",
                "flexion_deg": degrees,
            },
            **given(operation),
        )
    assert entry(surgeon, operation, "Active motion, left").details == (
        "flexion 85 degrees",
        (
            "3 months, active flexion: behind; needed 120 degrees, found 85, other side 160 "
            "(04 Sep 2026)"
        ),
    )
    assert entry(surgeon, operation, "Active motion, right").details == ("flexion 160 degrees",)


def test_a_score_says_how_it_was_taken_and_what_share_of_the_norm_it_is(
    surgeon: Person, settings: Any
) -> None:
    settings.CONSTANT_NORMS = "constant-1986"
    operation = builders.procedure()
    at = {"injury": operation.injury, "taken_on": DAY, **given(operation)}
    scores.record_score(instrument="sane", total=70, mode="remote", **at)
    # 46 years old on the day: 72 / 80 x 100
    scores.record_score(instrument="constant", total=72, **at)
    assert entry(surgeon, operation, "SANE: 70").details == ("patient, remote",)
    assert entry(surgeon, operation, "Constant-Murley: 72").details == (
        "90% of the norm for age and sex (constant-1986, version 1)",
    )


def test_decisions_and_tries_stand_with_their_reason_and_note(surgeon: Person) -> None:
    operation = builders.procedure(construct={"construct_type": "HP"})
    hardware.raise_planned_removals(**given(operation))
    contacts.record_attempt(
        review=operation.reviews.get(step__code="6m"),
        means="phone",
        outcome="no_answer",
        note="tried twice",
        by=surgeon,
        now=datetime(2026, 11, 20, 10, 0, tzinfo=UTC),
    )
    raised = entry(surgeon, operation, "Hardware: Raised")
    assert (raised.on, raised.details) == (TODAY, ("This construct is meant to come out",))
    tried = entry(surgeon, operation, "Contact: Phone call: No answer")
    assert (tried.on, tried.details) == (date(2026, 11, 20), ("tried twice",))


def test_a_complete_review_is_no_gap_and_says_what_was_planned_next(surgeon: Person) -> None:
    operation = builders.procedure()
    came(operation, **whole(), next_step_note="start loading")
    line = entry(surgeon, operation, "Review 6 weeks: attended")
    assert (line.kind, line.details) == ("past", ("complete", "next: start loading"))
    assert course_of(surgeon, operation).lacking == ()


def test_what_an_attended_review_lacks_is_a_gap_and_is_listed_on_top(surgeon: Person) -> None:
    operation = builders.procedure()
    came(operation, score_totals={"pain_nrs": 3.0})
    line = entry(surgeon, operation, "Review 6 weeks: attended")
    assert (line.kind, line.details) == (
        "gap",
        ("missing: Zanca film of both sides, motion, complications asked for, QuickDASH",),
    )
    assert course_of(surgeon, operation).lacking == (
        "6 weeks: Zanca film of both sides, motion, complications asked for, QuickDASH",
    )


def test_what_could_not_be_had_is_no_gap(surgeon: Person) -> None:
    operation = builders.procedure()
    came(operation, **{**whole(), "films": []}, not_obtainable={"film:zanca": "pregnant"})
    assert entry(surgeon, operation, "Review 6 weeks: attended").details == ("complete",)


def test_a_visit_after_the_window_says_so_and_its_findings_count(surgeon: Person) -> None:
    operation = builders.procedure()
    late = date(2026, 8, 5)
    film = FilmFound({"taken_on": late, "view": "zanca", "shows_both_sides": True})
    came(operation, on=late, **{**whole(), "films": [film]})
    line = entry(surgeon, operation, "Review 6 weeks: attended, outside its window")
    assert (line.on, line.details) == (late, ("complete",))


def test_a_lapsed_review_is_a_gap_with_everything_that_it_lacks(surgeon: Person) -> None:
    operation = builders.procedure()
    reviews.lapse_closed(by=operation.recorded_by, now=NOW, today=TODAY)
    line = entry(surgeon, operation, "Review 6 weeks: lapsed")
    assert (line.kind, line.on) == ("gap", DAY)
    assert line.details == (
        "missing: Zanca film of both sides, motion, complications asked for, pain score, QuickDASH",
    )
    assert len(course_of(surgeon, operation).lacking) == 4


@pytest.mark.parametrize(
    ("today", "title", "kind"),
    [
        (date(2026, 12, 5), "Review 6 months: planned", "ahead"),
        (date(2026, 12, 6), "Review 6 months: late", "gap"),
    ],
)
def test_a_review_is_ahead_until_the_day_after_it_was_due(
    surgeon: Person, today: date, title: str, kind: str
) -> None:
    line = entry(surgeon, builders.procedure(), "Review 6 months", today)
    assert (line.title, line.kind) == (title, kind)
    assert line.details == ("not booked", "window 05 Nov 2026 to 03 Feb 2027")


def test_a_booked_review_names_its_slot(surgeon: Person) -> None:
    operation = builders.procedure()
    booked(operation.reviews.get(step__code="6m"))
    line = entry(surgeon, operation, "Review 6 months")
    assert line.details[0] == "booked 01 Dec 2026 09:00"


def test_a_missed_review_is_a_gap(surgeon: Person) -> None:
    operation = builders.procedure()
    review = operation.reviews.get(step__code="6m")
    booked(review)
    reviews.miss(
        review=review,
        expected_version=review.version,
        by=review.recorded_by,
        now=datetime(2026, 12, 1, 12, 0, tzinfo=UTC),
    )
    line = entry(surgeon, operation, "Review 6 months: missed", date(2026, 12, 2))
    assert line.kind == "gap"
    assert line.details[0].startswith("missing: Zanca film")


def test_a_review_that_is_not_needed_says_why_and_is_no_gap(surgeon: Person) -> None:
    operation = builders.procedure()
    end(operation.reviews.get(step__code="24m"), "followed up at home")
    line = entry(surgeon, operation, "Review 24 months: not needed")
    assert (line.kind, line.details) == ("past", ("followed up at home",))


def test_each_injury_has_its_own_course(surgeon: Person) -> None:
    left = builders.procedure()
    patient: Patient = left.injury.patient
    right = builders.procedure(builders.injury(patient, side="right"))
    came(left, **whole())
    by_injury = {course.injury: course for course in courses(surgeon, patient, TODAY)}
    assert set(by_injury) == {left.injury, right.injury}
    titles = {line.title for line in by_injury[right.injury].entries}
    assert not any(title.startswith(("Zanca film", "QuickDASH")) for title in titles)


def test_another_site_sees_no_course(outsider: Person) -> None:
    assert courses(outsider, builders.procedure().injury.patient, TODAY) == []


def test_the_queries_do_not_grow_with_the_course(
    surgeon: Person, counted: Callable[[], Any]
) -> None:
    operation = builders.procedure()
    patient = operation.injury.patient
    numbers = []
    for on in (date(2026, 7, 5), date(2026, 7, 20)):
        film = FilmFound({"taken_on": on, "view": "zanca"}, {"union": "partial"})
        came(operation, on=on, **{**whole(), "films": [film]}, hardware_symptoms="hurts")
        afresh = Person.objects.get(pk=surgeon.pk)
        with counted() as queries:
            courses(afresh, patient, TODAY)
        numbers.append(len(queries))
        builders.procedure(builders.injury(patient, side="right"))
    assert numbers[0] == numbers[1]
