"""One visit, saved whole or not at all."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from followup.models import (
    Appointment,
    Complication,
    Film,
    HardwareDecision,
    MotionExam,
    Reading,
    Review,
    Score,
)
from followup.services import hardware, reviews, visits
from followup.services.visits import FilmFound, VisitFindings
from registry.errors import BadInput, IllegalTransition, StaleVersion
from registry.models import AuditEntry
from tests import builders
from tests.builders import NOW, TODAY, booked

pytestmark = pytest.mark.usefixtures("defaults")

# The 6-week window after 5 June 2026 goes from 3 to 31 July.
DAY = date(2026, 7, 17)
FINDINGS = (Film, Reading, MotionExam, Score, Complication, HardwareDecision)
WHOLE: dict[str, Any] = {
    "films": [
        FilmFound(
            {
                "taken_on": DAY,
                "view": "zanca",
                "calibration": "marker",
                "shows_both_sides": True,
            },
            {"ccd_injured_mm": Decimal("9.4"), "ccd_other_mm": Decimal("8.8"), "union": "partial"},
        )
    ],
    "motion": [
        {"side": "left", "mode": "active", "flexion_deg": 120},
        {"side": "right", "mode": "active", "flexion_deg": 170},
    ],
    "score_totals": {"pain_nrs": 3.0, "quickdash": 27.5},
    "complications": [{"kind": "hardware_irritation", "detected_on": DAY, "grade": "I"}],
    "hardware_symptoms": "the strap of a bag hurts",
    "next_step_note": "start loading",
}


def review_at(step: str = "6w", **construct: Any) -> Review:
    operation = builders.procedure(construct=construct)
    found: Review = operation.reviews.get(step__code=step)
    return found


def save(review: Review, on: date = DAY, **found: Any) -> Review:
    return visits.save_visit(
        review=review,
        visited_on=on,
        findings=VisitFindings(**found),
        expected_version=review.version,
        by=review.recorded_by,
        now=NOW,
        today=TODAY,
    )


def test_a_whole_visit_is_saved_and_the_review_is_attended_and_complete() -> None:
    review = review_at()
    save(review, **WHOLE)
    stands = Review.objects.get(pk=review.pk)
    assert (stands.state, stands.attended_on, stands.complete) == ("attended", DAY, True)
    assert stands.next_step_note == "start loading"
    assert Reading.objects.get().ccd_injured_mm == Decimal("9.4")
    assert set(MotionExam.objects.values_list("side", "flexion_deg", "examined_on")) == {
        ("left", 120, DAY),
        ("right", 170, DAY),
    }
    assert set(Score.objects.values_list("instrument", "taken_on")) == {
        ("pain_nrs", DAY),
        ("quickdash", DAY),
    }
    assert Complication.objects.get().procedure == review.procedure


def test_a_visit_is_one_change_in_the_trail() -> None:
    review = review_at()
    before = AuditEntry.objects.count()
    save(review, **WHOLE)
    written = AuditEntry.objects.order_by("id")[before:]
    assert len(written) >= 9
    assert {entry.person_id for entry in written} == {review.recorded_by_id}


def test_what_is_missing_leaves_the_review_attended_but_not_complete() -> None:
    review = save(review_at(), score_totals={"pain_nrs": 3.0})
    assert (review.state, review.complete) == ("attended", False)


def test_what_a_step_does_not_ask_is_not_written_down_as_asked() -> None:
    review = review_at()
    for item in ("free:sling", "motion"):
        with pytest.raises(BadInput, match=f"'{item}' is not asked at '6 weeks'; there are"):
            save(review, asked=[item])
    assert_nothing_saved(review)


def test_what_cannot_be_had_completes_the_review_by_its_reason() -> None:
    found = {**WHOLE, "films": [], "not_obtainable": {"film:zanca": "pregnant"}}
    review = save(review_at(), **found)
    assert review.complete is True
    assert Review.objects.get(pk=review.pk).not_obtainable == {"film:zanca": "pregnant"}


def test_whoever_saves_the_visit_has_read_the_film_unless_another_is_named() -> None:
    other = builders.person("fred", north="film_reader")
    (mine,) = WHOLE["films"]
    theirs = FilmFound(mine.film, mine.reading, other)
    review = review_at()
    save(review, films=[mine])
    save(review, films=[theirs])
    assert [one.reader for one in Reading.objects.order_by("id")] == [review.recorded_by, other]


def test_a_film_that_nobody_read_is_kept_without_a_reading() -> None:
    save(review_at(), films=[FilmFound({"taken_on": DAY, "view": "zanca"})])
    assert Film.objects.count() == 1
    assert not Reading.objects.exists()


def test_the_slot_of_the_visit_was_kept() -> None:
    review = review_at()
    booked(review, on=DAY, today=date(2026, 7, 1))
    save(review)
    assert Appointment.objects.get().state == "kept"


@pytest.mark.parametrize(
    ("on", "says"),
    [
        (date(2026, 11, 26), "2026-11-26 is in the future"),
        (date(2026, 6, 4), "2026-06-04 is before the operation it follows"),
    ],
)
def test_a_visit_of_an_impossible_day_is_refused(on: date, says: str) -> None:
    review = review_at()
    with pytest.raises(BadInput) as refused:
        save(review, on, score_totals={"pain_nrs": 3.0})
    assert says in refused.value.faults["visited_on"]
    assert_nothing_saved(review)


@pytest.mark.parametrize(
    ("part", "field"),
    [
        ({"films": [FilmFound({"taken_on": TODAY.replace(day=26), "view": "ap"})]}, "taken_on"),
        (
            {
                "films": [
                    FilmFound(
                        {"taken_on": DAY, "view": "ap", "calibration": "none"},
                        {"ccd_injured_mm": Decimal("9.4")},
                    )
                ]
            },
            "ccd_injured_mm",
        ),
        ({"motion": [{"side": "middle", "flexion_deg": 120}]}, "side"),
        ({"score_totals": {"pain_nrs": 3.0, "quickdash": 101.0}}, "quickdash"),
        ({"complications": [{"kind": "nerve", "detected_on": TODAY.replace(day=26)}]}, None),
    ],
    ids=["film", "reading", "motion", "score", "complication"],
)
def test_one_part_that_is_refused_leaves_nothing_half_saved(
    part: dict[str, Any], field: str | None
) -> None:
    review = review_at()
    with pytest.raises(BadInput) as refused:
        save(review, **{**WHOLE, **part})
    assert set(refused.value.faults) == {field or "detected_on"}
    assert_nothing_saved(review)


def test_of_two_who_save_the_same_visit_the_second_is_told_and_nothing_is_lost() -> None:
    review = review_at()
    seen = Review.objects.get(pk=review.pk)
    save(review, score_totals={"pain_nrs": 3.0}, next_step_note="start loading")
    with pytest.raises(StaleVersion, match="you have version 1, it is now 2"):
        save(seen, **{**WHOLE, "score_totals": {"pain_nrs": 9.0}, "next_step_note": "rest"})
    stands = Review.objects.get(pk=review.pk)
    assert (stands.next_step_note, Score.objects.get().value) == ("start loading", 3)
    assert not Film.objects.exists()


def test_saving_again_adds_to_the_visit_and_takes_nothing_away() -> None:
    review = review_at()
    first = {**WHOLE, "films": [], "not_obtainable": {"film:zanca": "pregnant"}}
    save(review, **first)
    save(review, TODAY, motion=[{"examined_on": DAY, "side": "left", "abduction_deg": 110}])
    stands = Review.objects.get(pk=review.pk)
    assert (stands.attended_on, stands.next_step_note) == (DAY, "start loading")
    assert (stands.not_obtainable, stands.complete) == ({"film:zanca": "pregnant"}, True)
    exam = MotionExam.objects.get(side="left")
    assert (exam.flexion_deg, exam.abduction_deg) == (120, 110)


def test_what_comes_after_the_window_is_kept_and_the_review_is_attended_late() -> None:
    review = review_at()
    reviews.lapse_closed(by=review.recorded_by, now=NOW, today=TODAY)
    review.refresh_from_db()
    assert review.state == "lapsed"
    save(review, date(2026, 8, 3), score_totals={"pain_nrs": 3.0})
    stands = Review.objects.get(pk=review.pk)
    assert (stands.state, stands.attended_on) == ("attended", date(2026, 8, 3))


def test_a_review_that_is_not_needed_takes_no_visit() -> None:
    review = review_at()
    reviews.mark_not_needed(
        review=review,
        reason="lives abroad",
        expected_version=1,
        by=review.recorded_by,
        now=NOW,
    )
    with pytest.raises(IllegalTransition, match="'not needed' and cannot become 'attended'"):
        save(review, **WHOLE)
    assert_nothing_saved(review)


def test_a_complaint_raises_the_question_of_removal() -> None:
    save(review_at(), hardware_symptoms="the strap of a bag hurts")
    question = HardwareDecision.objects.get()
    assert (question.raised_because, question.raised_on) == ("symptoms", DAY)
    assert (question.state, question.reason) == ("raised", "the strap of a bag hurts")


def test_a_complaint_is_added_to_the_question_that_is_open() -> None:
    review = review_at(construct_type="HP")
    hardware.raise_planned_removals(by=review.recorded_by, now=NOW, today=TODAY)
    save(review, hardware_symptoms="hurts at night")
    save(review, hardware_symptoms="hurts by day too")
    question = HardwareDecision.objects.get()
    assert question.raised_because == "planned_removal"
    assert question.reason == "hurts by day too; hurts at night"


def test_a_complaint_wakes_a_question_that_rests() -> None:
    review = review_at(construct_type="HP")
    hardware.raise_planned_removals(by=review.recorded_by, now=NOW, today=TODAY)
    question = HardwareDecision.objects.get()
    hardware.decide(
        decision=question,
        state="deferred",
        values={"deferred_until": date(2027, 1, 15), "reason": "exams"},
        expected_version=question.version,
        by=review.recorded_by,
        now=NOW,
        today=TODAY,
    )
    save(review, hardware_symptoms="hurts at night")
    question.refresh_from_db()
    assert (question.state, question.deferred_until) == ("raised", None)
    assert question.reason == "hurts at night; exams"


def test_a_complaint_about_hardware_that_is_out_is_refused_in_words() -> None:
    review = review_at()
    builders.procedure(
        review.procedure.injury,
        kind="implant_removal",
        revises=review.procedure,
        performed_on=date(2026, 9, 25),
    )
    with pytest.raises(BadInput) as refused:
        save(review, hardware_symptoms="hurts")
    assert "is out already" in refused.value.faults["hardware_symptoms"]
    assert_nothing_saved(review)


def test_findings_are_kept_where_no_review_was_planned() -> None:
    operation = builders.procedure()
    visits.save_findings(
        procedure=operation,
        findings=VisitFindings(**WHOLE),
        on=DAY,
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )
    assert [model.objects.count() for model in FINDINGS] == [1, 1, 2, 2, 1, 1]
    assert not Review.objects.filter(state="attended").exists()


def assert_nothing_saved(review: Review) -> None:
    assert [model.objects.count() for model in FINDINGS] == [0] * len(FINDINGS)
    assert Review.objects.get(pk=review.pk).attended_on is None


def test_several_complications_of_one_visit_keep_their_onset_and_end() -> None:
    events = [
        {
            "kind": "infection_superficial",
            "detected_on": DAY,
            "grade": "II",
            "onset_earliest": date(2026, 7, 1),
            "onset_latest": date(2026, 7, 17),
            "resolved_on": DAY,
        },
        {"kind": "nerve", "detected_on": DAY},
    ]
    save(review_at(), complications=events)
    kept = Complication.objects.order_by("kind").values_list(
        "kind", "onset_earliest", "resolved_on"
    )
    assert list(kept) == [
        ("infection_superficial", date(2026, 7, 1), DAY),
        ("nerve", None, None),
    ]


def decided(state: str, version: int, **values: Any) -> visits.HardwareDecided:
    return visits.HardwareDecided(state, values, version)


def test_a_complaint_and_the_decision_about_it_are_saved_in_one_visit() -> None:
    review = review_at()
    save(review, hardware_symptoms="the strap hurts")
    review.refresh_from_db()
    question = HardwareDecision.objects.get()
    answer = decided("declined", question.version, reason="wants to wait")
    save(review, hardware_symptoms="it clicks too", hardware_decision=answer)
    question.refresh_from_db()
    assert (question.state, question.reason) == ("declined", "wants to wait")


def test_a_decision_over_a_question_that_changed_saves_nothing_of_the_visit() -> None:
    review = review_at()
    save(review, hardware_symptoms="the strap hurts")
    review.refresh_from_db()
    stale = decided("declined", 7, reason="wants to wait")
    with pytest.raises(StaleVersion):
        save(review, score_totals={"pain_nrs": 2.0}, hardware_decision=stale)
    assert not Score.objects.exists()
    assert HardwareDecision.objects.get().state == "raised"


def test_a_deferral_without_a_day_saves_nothing_of_the_visit() -> None:
    review = review_at()
    save(review, hardware_symptoms="the strap hurts")
    review.refresh_from_db()
    answer = decided("deferred", HardwareDecision.objects.get().version, reason="not now")
    with pytest.raises(BadInput, match="Give a day to come"):
        save(review, score_totals={"pain_nrs": 2.0}, hardware_decision=answer)
    assert not Score.objects.exists()


def test_the_surgeons_own_words_are_kept_with_the_review_and_not_wiped_by_a_second_save() -> None:
    review = review_at()
    save(review, visit_note="Back at work.")
    review.refresh_from_db()
    save(review, next_step_note="rest")
    assert Review.objects.get(pk=review.pk).visit_note == "Back at work."
