from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from followup.models import Review
from followup.rules.findings import Found
from followup.rules.letters import to_patient, to_referrer, visit_note
from followup.selectors import letters
from followup.services import letters as service
from followup.services import visits
from followup.services.visits import FilmFound, VisitFindings
from registry.models import Person
from registry.services import erasure
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def came(step: str = "6m", on: date = TODAY, **found: Any) -> Review:
    review = builders.procedure(of=builders.injury(of=builders.patient(family_name="Quill")))
    return visited(review.reviews.get(step__code=step), on, **found)


def visited(review: Review, on: date = TODAY, **found: Any) -> Review:
    return visits.save_visit(
        review=review,
        visited_on=on,
        findings=VisitFindings(**found),
        expected_version=review.version,
        by=review.recorded_by,
        now=NOW,
        today=TODAY,
    )


def film(on: date, mm: str) -> FilmFound:
    facts = {"taken_on": on, "view": "zanca", "calibration": "marker"}
    return FilmFound(facts, {"ccd_injured_mm": Decimal(mm), "union": "united"})


def test_the_facts_are_those_of_the_visit_and_not_of_others() -> None:
    review = came(
        films=[film(date(2026, 11, 20), "9.4")],
        motion=[{"side": "left", "mode": "active", "flexion_deg": 140}],
        score_totals={"pain_nrs": 2.0},
        complications=[{"kind": "nerve", "detected_on": TODAY, "grade": "I"}],
        asked=["complication_screen", "hardware_check"],
        not_obtainable={"film:axillary": "no time"},
        next_step_note="full load",
        visit_note="Back at work.",
    )
    first = review.procedure.reviews.get(step__code="6w")
    visited(first, date(2026, 7, 17), films=[film(date(2026, 7, 17), "9.0")])
    facts = letters.facts_of(Review.objects.get(pk=review.pk), "Surgeon")
    assert [(one.on, one.readings) for one in facts.films] == [
        (
            date(2026, 11, 20),
            (
                "coracoclavicular distance 9.4 mm, bone: united, hardware: cannot be judged",
                "+0.4 mm since the first film of this view",
            ),
        )
    ]
    assert [(one.side, one.is_injured, one.degrees) for one in facts.motion] == [
        ("left", True, (("flexion", 140),))
    ]
    assert facts.scores == ("Pain, 0 to 10: 2 on 25 Nov 2026 (lower is better)",)
    assert [(one.kind, one.is_new) for one in facts.harms] == [("Nerve injury or numbness", True)]
    assert facts.hardware == ("asked about: no complaint",)
    assert facts.not_obtainable == ("Axillary film: no time",)
    assert (facts.plan, facts.own_words) == ("full load", "Back at work.")
    assert facts.next_review.startswith("12 months, due about ")
    assert any("flexion" in line and "140" in line for line in facts.behind)


def test_findings_of_a_film_are_in_the_note_and_in_both_letters() -> None:
    facts = {"taken_on": TODAY, "view": "zanca"}
    found = [Found("acromial_erosion", "present", 1), Found("ossification", "absent")]
    review = came(films=[FilmFound(facts, {"union": "united"}, found=found)])
    visit = letters.facts_of(Review.objects.get(pk=review.pk), "Surgeon")
    told = "erosion of the acromion grade 1 (a mark on its undersurface)"
    for text in (visit_note(visit), to_referrer(visit), to_patient(visit)):
        assert told in text


def test_there_are_no_facts_of_a_visit_that_was_not() -> None:
    review = builders.procedure().reviews.get(step__code="6m")
    with pytest.raises(ValueError, match="was not attended"):
        letters.facts_of(review, "Surgeon")


def test_the_head_names_the_patient_and_the_address_is_theirs_or_the_last_doctors() -> None:
    review = came(next_step_note="rest")
    assert letters.head_of(review)[0] == "Quill, Ada, born 17 May 1980"
    assert letters.head_of(review)[1].startswith("hospital number north-")
    assert letters.addressee_for(review, "patient") == "Ada Quill"
    assert letters.addressee_for(review, "referrer") == ""
    at: dict[str, Any] = {"by": review.recorded_by, "now": NOW, "head": [], "body": "Held."}
    service.write_letter(review=review, kind="referrer", addressee="Dr Invented", **at)
    assert letters.addressee_for(review, "referrer") == "Dr Invented"
    assert letters.addressee_for(came(next_step_note="rest"), "referrer") == ""
    assert letters.addressee_for(review, "note") == ""


def test_letters_are_seen_at_the_own_site_and_not_after_erasure(
    surgeon: Person, outsider: Person
) -> None:
    review = came(next_step_note="rest")
    at: dict[str, Any] = {"by": surgeon, "now": NOW, "head": [], "addressee": "", "body": "Held."}
    letter = service.write_letter(review=review, kind="note", **at)
    assert letters.letter_seen_by(surgeon, letter.pk) == letter
    assert letters.letter_seen_by(outsider, letter.pk) is None
    assert letters.text_of(letter).body == "Held."
    assert [line.kind for line in letters.letters_of(review) if line.letters] == ["note"]
    patient = review.procedure.injury.patient
    erasure.erase_patient(patient=patient, reason="by letter", by=surgeon, now=NOW, today=TODAY)
    assert letters.letter_seen_by(surgeon, letter.pk) is None
    assert [one.body for one in letters.versions_of(letter)] == ["Erased on request."]
