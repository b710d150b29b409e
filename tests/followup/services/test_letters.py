import hashlib
from datetime import timedelta
from typing import Any

import pytest

from followup.models import Letter, LetterText, Review
from followup.selectors import letters as selector
from followup.services import letters, visits
from registry.errors import BadInput, IllegalTransition, StaleVersion
from registry.models import AuditEntry, Person
from registry.services import erasure
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture
def review(db: None) -> Review:
    whose = builders.patient(family_name="Quill")
    found = builders.procedure(of=builders.injury(of=whose)).reviews.get(step__code="6m")
    return visits.save_visit(
        review=found,
        visited_on=TODAY,
        findings=visits.VisitFindings(next_step_note="rest"),
        expected_version=found.version,
        by=found.recorded_by,
        now=NOW,
        today=TODAY,
    )


def written(review: Review, **more: Any) -> Letter:
    given: dict[str, Any] = {
        "kind": "referrer",
        "head": selector.head_of(review),
        "addressee": "Dr Invented",
        "body": "Dear colleague,",
        "by": review.recorded_by,
        "now": NOW,
        **more,
    }
    return letters.write_letter(review=review, **given)


def changed(letter: Letter, body: str, version: int = 0) -> Letter:
    return letters.change_letter(
        letter=letter,
        head=["Quill, Ada"],
        addressee="Dr Invented",
        body=body,
        expected_version=version or letter.version,
        by=letter.recorded_by,
        now=NOW,
    )


def sent(letter: Letter, **more: Any) -> Letter:
    given: dict[str, Any] = {
        "means": "post",
        "on": TODAY,
        "expected_version": letter.version,
        "by": letter.recorded_by,
        "now": NOW,
        "today": TODAY,
        **more,
    }
    return letters.send_letter(letter=letter, **given)


def test_every_version_of_a_draft_is_kept_and_the_trail_holds_its_hash(review: Review) -> None:
    letter = written(review)
    first = letter.content_hash
    changed(letter, "Dear doctor,")
    assert [one.body for one in selector.versions_of(letter)] == ["Dear doctor,", "Dear colleague,"]
    trail = AuditEntry.objects.filter(table="followup_letter").order_by("id")
    hashes = [entry.after["content_hash"] for entry in trail]
    assert hashes == [first, letter.content_hash]
    # Who it is about stands nowhere in the trail of a letter.
    assert not any("Quill" in str(entry.after) for entry in trail)


def test_what_was_sent_keeps_its_words_and_its_pages_and_is_never_changed(review: Review) -> None:
    letter = sent(written(review))
    text = selector.text_of(letter)
    assert bytes(text.pages).startswith(b"%PDF-")
    assert hashlib.sha256(bytes(text.pages)).hexdigest() == letter.pages_hash
    assert (letter.state, letter.sent_on, letter.sent_by_means) == ("sent", TODAY, "post")
    with pytest.raises(IllegalTransition, match="'sent' and cannot become 'changed'"):
        changed(letter, "Something else")
    with pytest.raises(IllegalTransition, match="cannot become 'sent'"):
        sent(letter)
    assert LetterText.objects.count() == 1


def test_a_correction_is_another_letter_with_the_next_number(review: Review) -> None:
    sent(written(review))
    again = written(review, body="Dear colleague, a correction.")
    assert (again.number, str(again)) == (2, "Letter to the referring doctor, 2")


def test_there_is_one_draft_of_a_kind(review: Review) -> None:
    written(review)
    with pytest.raises(BadInput):
        written(review)
    assert Letter.objects.count() == LetterText.objects.count() == 1


def test_of_two_who_change_a_draft_the_second_is_told(review: Review) -> None:
    letter = written(review)
    seen = letter.version
    changed(letter, "Dear doctor,")
    with pytest.raises(StaleVersion):
        changed(letter, "Dear friend,", version=seen)
    assert selector.text_of(letter).body == "Dear doctor,"
    with pytest.raises(StaleVersion):
        sent(letter, expected_version=seen)
    assert Letter.objects.get().state == "draft"


@pytest.mark.parametrize(
    ("how", "says"),
    [
        ({"means": ""}, "Say how it goes out"),
        ({"on": TODAY + timedelta(days=1)}, "in the future"),
        ({"on": TODAY - timedelta(days=1)}, "before the visit"),
    ],
)
def test_what_cannot_be_sent_so_is_refused(review: Review, how: dict[str, Any], says: str) -> None:
    letter = written(review)
    with pytest.raises(BadInput, match=says):
        sent(letter, **how)
    assert Letter.objects.get().state == "draft"


def test_a_letter_goes_to_somebody_and_a_note_to_nobody(review: Review) -> None:
    with pytest.raises(BadInput, match="whom this letter goes to"):
        sent(written(review, addressee=""))
    assert sent(written(review, kind="note", addressee=""), means="filed").state == "sent"


def test_pages_that_cannot_show_what_was_typed_are_not_sent(review: Review) -> None:
    letter = written(review, body="Dear colleague, all well \N{GRINNING FACE}")
    with pytest.raises(BadInput, match="cannot show all that was typed"):
        sent(letter)
    assert Letter.objects.get().state == "draft"


def test_nothing_is_written_without_words_or_about_a_visit_that_was_not(review: Review) -> None:
    with pytest.raises(BadInput, match="Write something"):
        written(review, body="  ")
    with pytest.raises(BadInput, match="12001 characters"):
        written(review, body="x" * 12001)
    later = review.procedure.reviews.get(step__code="12m")
    with pytest.raises(BadInput, match="not recorded yet"):
        written(later)


def test_erasure_takes_the_words_and_leaves_that_it_was_sent(
    review: Review, surgeon: Person
) -> None:
    letter = sent(written(review))
    patient = review.procedure.injury.patient
    erasure.erase_patient(patient=patient, reason="by letter", by=surgeon, now=NOW, today=TODAY)
    text = LetterText.objects.get()
    assert (text.head, text.addressee, text.pages) == ([], "", None)
    assert "colleague" not in text.body
    assert Letter.everything.get(pk=letter.pk).sent_on == TODAY
