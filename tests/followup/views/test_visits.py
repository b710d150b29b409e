"""The visit page."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.test import Client
from django.urls import reverse

from followup.exchange import pictures
from followup.models import (
    Complication,
    Film,
    HardwareDecision,
    MotionExam,
    Reading,
    Review,
    Score,
    Task,
)
from followup.services import films, images, motion, reviews, scores
from registry.models import AuditEntry, Person, Procedure
from tests import builders
from tests.builders import NOW, TODAY
from tests.world import GREYS

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]

# 25 November 2026 is a Wednesday, inside the 6-month window after 5 June.
FINDINGS = (Film, Reading, MotionExam, Score, Complication, HardwareDecision)


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def here(client: Client, surgeon: Person) -> Client:
    client.force_login(surgeon)
    return client


def review_at(name: str = "Quill", step: str = "6m", **values: Any) -> Review:
    whose = builders.patient(family_name=name)
    operation: Procedure = builders.procedure(of=builders.injury(of=whose), **values)
    found: Review = operation.reviews.get(step__code=step)
    return found


def seen_before(review: Review, on: date = date(2026, 7, 17)) -> None:
    """Let the injury have a film, motion and a score of a day, by default in July."""
    hurt = review.procedure.injury
    at = {"by": review.recorded_by, "now": NOW, "today": TODAY}
    facts = {"taken_on": on, "view": "zanca", "calibration": "marker"}
    film = films.record_film(injury=hurt, values=facts, **at)
    values = {"ccd_injured_mm": Decimal("9.4"), "union": "partial", "hardware": "intact"}
    films.record_reading(film=film, values=values, reader=review.recorded_by, **at)
    exam = {"examined_on": on, "side": "left", "mode": "active", "flexion_deg": 120}
    motion.record_motion(injury=hurt, values=exam, **at)
    scores.record_score(injury=hurt, instrument="pain_nrs", taken_on=on, total=4, **at)


def where(review: Review) -> str:
    return reverse("clinic-visit", args=[review.pk])


def visit_page(client: Client, review: Review) -> str:
    return str(client.get(where(review)).content.decode())


def save(client: Client, review: Review, **typed: Any) -> Any:
    sent = {"version": review.version, "visited_on": "2026-11-25", **typed}
    return client.post(where(review), sent)


def saved() -> dict[str, int]:
    return {model.__name__: model.objects.count() for model in FINDINGS if model.objects.exists()}


def test_the_visit_shows_what_was_found_before_beside_today(here: Client) -> None:
    review = review_at()
    seen_before(review)
    shown = visit_page(here, review)
    before, today = shown.split('<h2 id="now">')
    for words in (
        "Zanca, 17 Jul 2026",
        "9.4 mm",
        "Partly united",
        "In place",
        "Pain, 0 to 10 (0 is best): 4",
    ):
        assert words in before
    assert '<td class="number">120</td>' in before
    for words in ("Last time: 120 on 17 Jul 2026", "Last time: 9.4 on 17 Jul 2026"):
        assert words in today


def test_a_visit_says_what_the_construct_is_made_of(here: Client) -> None:
    facts = {"construct_type": "LP+A1", "lateral_screw_count": 7, "anchor_count": 1}
    page = visit_page(here, review_at(construct=facts))
    assert "(7 lateral screws, 1 anchor)" in page


def test_a_visit_draws_the_construct_with_words_for_it(here: Client) -> None:
    facts = {"construct_type": "LP+A1", "lateral_screw_count": 7, "anchor_count": 1}
    page = visit_page(here, review_at(construct=facts))
    assert page.count('class="cd screw small"') == 7
    assert "Left shoulder from the front: plate, 7 lateral screws, 1 anchor." in page
    assert "Not recorded: holes, shaft screws, free slots, suture retainers." in page


def test_a_visit_says_which_shoulder_which_construct_and_how_long_ago(here: Client) -> None:
    review = review_at()
    shown = visit_page(here, review)
    assert f"Left shoulder; {review.procedure.construct} on" in shown
    assert "(5\N{NO-BREAK SPACE}months, 2\N{NO-BREAK SPACE}weeks ago)" in shown


def test_a_first_visit_says_what_the_want_of_a_film_means(here: Client) -> None:
    shown = visit_page(here, review_at())
    assert "without a first film, loss of reduction cannot be judged" in shown


def test_what_was_found_last_time_is_shown_and_never_saved(here: Client) -> None:
    review = review_at()
    seen_before(review)
    before = saved()
    assert 'value="120"' not in visit_page(here, review)
    assert save(here, review, next_step_note="as before").status_code == 302
    assert saved() == before
    assert Review.objects.get(pk=review.pk).complete is False


def test_a_whole_visit_is_saved_from_one_page(here: Client, surgeon: Person) -> None:
    review = review_at()
    answer = save(
        here,
        review,
        film_view="zanca",
        film_calibration="marker",
        film_both_sides="on",
        ccd_injured_mm="9.4",
        ccd_other_mm="8.8",
        union="united",
        hardware="intact",
        flexion_deg="150",
        internal_rotation="t12",
        other_flexion_deg="170",
        pain_nrs="2",
        quickdash="11.4",
        sane="85",
        complication_kind="nerve",
        complication_grade="I",
        hardware_symptoms="the strap of a bag hurts",
        next_step_note="full load",
    )
    assert answer.url == reverse("patient", args=[review.procedure.injury.patient.key])
    stands = Review.objects.get(pk=review.pk)
    assert (stands.state, stands.attended_on, stands.complete) == ("attended", TODAY, True)
    assert (stands.next_step_note, stands.changed_by) == ("full load", surgeon)
    assert saved() == {
        "Film": 1,
        "Reading": 1,
        "MotionExam": 2,
        "Score": 3,
        "Complication": 1,
        "HardwareDecision": 1,
    }
    assert Reading.objects.get().reader == surgeon
    assert MotionExam.objects.get(side="right").flexion_deg == 170
    assert "Saved: Quill, Ada, 6 months." in here.get(answer.url).content.decode()


def test_a_film_of_another_day_keeps_its_day(here: Client) -> None:
    save(here, review_at(), film_view="zanca", film_taken_on="2026-11-20")
    assert Film.objects.get().taken_on == date(2026, 11, 20)


def test_what_could_not_be_had_is_saved_with_its_reason(here: Client) -> None:
    review = review_at()
    save(here, review, why_no_film_zanca="pregnant")
    assert Review.objects.get(pk=review.pk).not_obtainable == {"film:zanca": "pregnant"}


@pytest.mark.parametrize(
    ("typed", "field", "says"),
    [
        ({"visited_on": "2026-11-26"}, "visited_on", "2026-11-26 is in the future"),
        ({"visited_on": "2026-06-04"}, "visited_on", "is before the operation it follows"),
        ({"visited_on": "25/11"}, "visited_on", "Write a possible date as year-month-day"),
        (
            {"film_view": "zanca", "film_taken_on": "2026-11-26"},
            "film_taken_on",
            "2026-11-26 is in the future",
        ),
        (
            {"film_view": "zanca", "film_calibration": "none", "ccd_injured_mm": "9.4"},
            "ccd_injured_mm",
            "This film is not calibrated",
        ),
        ({"ccd_injured_mm": "9.4"}, "film_view", "Name the view of the film"),
        ({"flexion_deg": "250"}, "flexion_deg", "250 degrees is not possible"),
        ({"other_flexion_deg": "250"}, "other_flexion_deg", "250 degrees is not possible"),
        ({"pain_nrs": "11"}, "pain_nrs", "less than or equal to 10"),
        ({"film_taken_on": "2026-11-20"}, "film_view", "Name the view of the film"),
        ({"complication_grade": "II"}, "complication_kind", "Say which complication"),
        ({"complication_relation": "construct"}, "complication_kind", "Say which complication"),
        ({"complication_action": "washed out"}, "complication_kind", "Say which complication"),
    ],
)
def test_a_refusal_stands_by_its_field_and_nothing_typed_is_lost(
    here: Client, typed: dict[str, str], field: str, says: str
) -> None:
    review = review_at()
    refused = save(here, review, **{"sane": "81", "next_step_note": "full load", **typed})
    shown = refused.content.decode()
    error = shown.split(f'id="id_{field}_error">')[1].split("</p>")[0]
    assert says in error
    for value in ("81", "full load", *(v for v in typed.values() if not v.isalpha())):
        assert f'value="{value}"' in shown
    assert saved() == {}
    assert Review.objects.get(pk=review.pk).state == "planned"


def test_a_page_on_which_nothing_was_filled_in_is_no_visit(here: Client) -> None:
    review = review_at()
    shown = save(here, review, film_posture="upright", film_calibration="marker").content.decode()
    assert "Nothing is filled in yet." in shown
    assert Review.objects.get(pk=review.pk).state == "planned"


@pytest.mark.parametrize("typed", [{"pain_nrs": "0"}, {"next_step_note": "no complaints"}])
def test_a_zero_or_a_word_is_a_visit(here: Client, typed: dict[str, str]) -> None:
    review = review_at()
    assert save(here, review, **typed).status_code == 302
    assert Review.objects.get(pk=review.pk).state == "attended"


def test_a_refusal_in_a_folded_part_opens_it(here: Client) -> None:
    review = review_at()
    folded = "<details><summary>Motion of the other side"
    assert folded in visit_page(here, review)
    assert folded not in save(here, review, other_flexion_deg="250").content.decode()


def test_an_unusual_value_is_asked_about_once_and_kept_with_a_flag(here: Client) -> None:
    review = review_at()
    typed = {"flexion_deg": "5", "other_flexion_deg": "188"}
    asked = save(here, review, **typed).content.decode()
    assert "5 degrees is unusual" in asked
    assert "188 degrees is unusual" in asked
    assert 'type="checkbox" name="checked"' in asked
    assert saved() == {}
    assert save(here, review, checked="on", **typed).status_code == 302
    flags = dict(MotionExam.objects.values_list("side", "flags"))
    assert flags == {"left": ["flexion_deg"], "right": ["flexion_deg"]}


def test_of_two_who_save_the_second_sees_both_and_can_save_again(here: Client) -> None:
    review = review_at()
    save(here, review, next_step_note="start loading", pain_nrs="3")
    answer = save(here, review, next_step_note="rest", sane="40", other_flexion_deg="170")
    shown = answer.content.decode()
    assert answer.status_code == 409
    for words in (
        "Somebody else saved this first",
        "<td>start loading</td><td>rest</td>",
        'value="40"',
        'value="170"',
        "<details open><summary>Motion of the other side",
        'name="version" value="2"',
    ):
        assert words in shown
    assert saved() == {"Score": 1}
    review.refresh_from_db()
    assert save(here, review, next_step_note="rest", sane="40").status_code == 302
    assert Review.objects.get(pk=review.pk).next_step_note == "rest"
    assert saved() == {"Score": 2}


def test_a_visit_that_is_recorded_says_that_saving_adds_to_it(here: Client) -> None:
    review = review_at()
    save(here, review, pain_nrs="2")
    assert "saving adds to it" in visit_page(here, review)


def test_a_review_that_is_not_needed_refuses_the_visit_in_words(here: Client) -> None:
    review = review_at()
    reviews.mark_not_needed(
        review=review,
        reason="lives abroad",
        expected_version=1,
        by=review.recorded_by,
        now=NOW,
    )
    shown = save(here, review, pain_nrs="3").content.decode()
    assert "cannot become &#x27;attended&#x27;" in shown
    assert saved() == {}


def test_a_coordinator_reads_a_visit_and_is_offered_no_form(
    client: Client, coordinator: Person
) -> None:
    client.force_login(coordinator)
    review = review_at()
    shown = visit_page(client, review)
    assert "A surgeon of this site records the visit here." in shown
    assert "Save the visit" not in shown
    assert save(client, review).status_code == 403


def test_opening_a_visit_is_written_down(here: Client, surgeon: Person) -> None:
    visit_page(here, review_at())
    entry = AuditEntry.objects.latest("id")
    assert (entry.action, entry.reason, entry.person_id) == ("read", "visit", surgeon.pk)


def test_a_visit_takes_no_other_method(here: Client) -> None:
    assert here.put(where(review_at())).status_code == 405
    assert here.post(reverse("clinic")).status_code == 405


def test_what_a_step_asks_in_the_services_own_words_is_asked_and_completes(here: Client) -> None:
    review = review_at(step="2w")
    review.step.free_items = [{"code": "sling", "words": "sling worn as agreed"}]
    review.step.save()
    shown = visit_page(here, review)
    assert "Also asked at this step" in shown
    assert "No sling worn as agreed: why not obtainable" in shown
    save(here, review, asked_complications="on", wound_checked="on", pain_nrs="2")
    stands = Review.objects.get(pk=review.pk)
    assert stands.complete is False
    save(here, stands, free_sling="on", version=str(stands.version))
    stands.refresh_from_db()
    assert (stands.complete, "free:sling" in stands.asked) == (True, True)


def test_what_was_asked_and_looked_at_is_kept_with_the_review(here: Client) -> None:
    review = review_at(step="2w")
    assert "Wound looked at" in visit_page(here, review)
    assert "Wound looked at" not in visit_page(here, review_at("Second"))
    save(here, review, asked_complications="on", wound_checked="on")
    stands = Review.objects.get(pk=review.pk)
    assert stands.asked == ["complication_screen", "wound_check"]
    again = save(here, stands, pain_nrs="3", version=str(stands.version))
    assert again.status_code == 302
    assert Review.objects.get(pk=review.pk).asked == ["complication_screen", "wound_check"]


def test_what_the_step_asks_for_beyond_the_usual_scores_has_its_field(here: Client) -> None:
    review = review_at()
    review.step.scores = ["pain_nrs", "oss", "dash_work"]
    review.step.save()
    shown = visit_page(here, review)
    assert "Oxford Shoulder Score total" in shown
    assert "DASH work module total" in shown
    refused = save(here, review, oss="49")
    assert "less than or equal to 48" in refused.content.decode()
    assert save(here, review, oss="41", sane="80").status_code == 302
    kept = {row.instrument: float(row.value) for row in Score.objects.all()}
    assert kept == {"oss": 41.0, "sane": 80.0}


def test_who_is_behind_is_shown_with_the_numbers_and_physiotherapy_can_be_asked_for(
    here: Client,
) -> None:
    # The shipped protocol asks for 150 degrees of active flexion at 6 months.
    review = review_at()
    assert save(here, review, flexion_deg="90", other_flexion_deg="165").status_code == 302
    shown = visit_page(here, review)
    assert (
        '<li class="act-now">6 months, active flexion: behind; needed 150 degrees, found 90, '
        "other side 165 (25 Nov 2026)</li>"
    ) in shown
    assert not Task.objects.exists()
    review.refresh_from_db()
    assert save(here, review, arrange_physiotherapy="on").status_code == 302
    task = Task.objects.get()
    assert (task.kind, task.review) == ("physiotherapy", review)
    assert "needed 150 degrees, found 90, other side 165" in task.words


def test_passive_motion_is_kept_apart_and_held_to_the_same_limits(here: Client) -> None:
    review = review_at()
    refused = save(here, review, passive_flexion_deg="250").content.decode()
    assert 'id="id_passive_flexion_deg_error"' in refused
    save(here, review, flexion_deg="100", passive_flexion_deg="120")
    assert {(exam.mode, exam.flexion_deg) for exam in MotionExam.objects.all()} == {
        ("active", 100),
        ("passive", 120),
    }


def test_removal_is_decided_on_the_visits_page(here: Client) -> None:
    review = review_at()
    assert "decision_state" not in visit_page(here, review)
    save(here, review, hardware_symptoms="the strap hurts")
    review.refresh_from_db()
    shown = visit_page(here, review)
    question = HardwareDecision.objects.get()
    assert f'name="decision_version" value="{question.version}"' in shown
    refused = save(here, review, decision_state="declined", decision_version=question.version)
    assert 'id="id_decision_reason_error"' in refused.content.decode()
    answer = save(
        here,
        review,
        decision_state="declined",
        decision_reason="wants to wait",
        decision_version=question.version,
    )
    assert answer.status_code == 302
    question.refresh_from_db()
    assert (question.state, question.reason) == ("declined", "wants to wait")


def test_the_strip_shows_a_picture_to_whoever_may_see_films(
    here: Client, client: Client, surgeon: Person, coordinator: Person
) -> None:
    review = review_at()
    seen_before(review)
    film = Film.objects.get()
    sent = ContentFile(pictures.as_png(GREYS))
    image = images.add_image(film=film, content=sent, by=surgeon, now=NOW)
    address = reverse("image-frame", args=[image.pk, 1]) + "?small=yes"
    assert f'src="{address}"' in visit_page(here, review)
    assert here.get(address).status_code == 200
    client.force_login(coordinator)
    assert address not in visit_page(client, review)


def test_the_page_asks_as_often_for_a_long_course_as_for_a_short_one(
    here: Client, counted: Callable[[], Any]
) -> None:
    numbers = []
    for days in (1, 8):
        review = review_at()
        for day in range(days):
            seen_before(review, date(2026, 7, 10 + day))
        with counted() as queries:
            visit_page(here, review)
        numbers.append(len(queries))
    assert numbers[0] == numbers[1]
