import hashlib
from dataclasses import replace
from datetime import date

import pytest

from followup.rules.letters import (
    CAUTION,
    COMPOSERS,
    FilmSeen,
    HarmSeen,
    MotionSeen,
    VisitFacts,
    content_hash,
    to_patient,
    to_referrer,
    visit_note,
)

DAY = date(2026, 11, 25)
BARE = VisitFacts(
    site="North Hospital",
    telephone="0555 010 2000",
    step="6 months",
    visited_on=DAY,
    signed_by="Surgeon",
    side="left",
    injury="Fracture of the lateral clavicle",
    operation="fixation with locking plate alone",
    operated_on=date(2026, 6, 5),
    built="7 holes",
)
FULL = replace(
    BARE,
    films=(FilmSeen("Zanca film", DAY, ("coracoclavicular distance 9.4 mm, bone: united",)),),
    motion=(
        MotionSeen("left", "active", True, (("flexion", 140), ("abduction", 130)), "T12"),
        MotionSeen("right", "active", False, (("flexion", 170),)),
    ),
    scores=("Pain, 0 to 10 2 on 25 Nov 2026 (lower is better)",),
    harms=(HarmSeen("Nerve injury or numbness", "I: no change", DAY, "watched", None, True),),
    asked_about_harms=True,
    plan="full load.",
    own_words="Back at work.",
    next_review="12 months, due about 05 June 2027",
)


def test_the_note_holds_everything_with_its_numbers() -> None:
    note = visit_note(FULL)
    for words in (
        "6 months, seen on 25 November 2026; note by Surgeon",
        "fixation with locking plate alone (7 holes) on 5 June 2026, 6 months before this visit.",
        "- Zanca film, 25 November 2026: coracoclavicular distance 9.4 mm, bone: united",
        "- left (injured side), active: flexion 140 degrees, abduction 130 degrees, internal",
        "internal rotation to T12",
        "- right (other side), active: flexion 170 degrees",
        "- new: Nerve injury or numbness (25 November 2026); grade I: no change; watched; not ended",
        "- Back at work.",
        "- full load.",
        "- next review: 12 months, due about 05 June 2027",
        CAUTION,
    ):
        assert words in note


def test_what_is_not_recorded_is_called_so_and_nothing_is_concluded() -> None:
    note = visit_note(BARE)
    for title in ("Films", "Motion", "Scores", "Complications", "Hardware"):
        assert f"{title}:\n- not recorded at this visit" in note
    for title in ("Could not be had", "Beside the milestones", "Note"):
        assert f"{title}:" not in note
    letter = to_patient(BARE)
    for word in ("united", "healed", "problem", "X-ray", "could lift"):
        assert word not in letter


def test_asked_without_a_finding_is_not_the_same_as_not_asked() -> None:
    asked = replace(BARE, asked_about_harms=True)
    assert "- asked about; no new one was told or found" in visit_note(asked)
    assert "No new problem was written down." in to_patient(asked)
    assert "No new problem" not in to_patient(BARE)


def test_an_older_complication_is_told_as_one_that_goes_on() -> None:
    old = HarmSeen("Stiffness", "II: treated", date(2026, 9, 1), "", None, False)
    told = visit_note(replace(BARE, harms=(old,), asked_about_harms=True))
    assert "- Stiffness (1 September 2026); grade II: treated; not ended" in told
    assert "no new one" in told
    assert "Stiffness" not in to_patient(replace(BARE, harms=(old,)))


def test_the_letter_to_the_doctor_greets_tells_and_is_signed() -> None:
    letter = to_referrer(FULL)
    assert letter.startswith("Dear colleague,\n\nYour patient came for the 6 months review")
    assert letter.endswith("Surgeon\nNorth Hospital")
    assert CAUTION in letter


def test_the_letter_to_the_patient_is_plain_and_says_whom_to_ring() -> None:
    letter = to_patient(FULL)
    for words in (
        "your left shoulder on 25 November 2026",
        "you could lift your arm forwards to 140 degrees and lift it sideways to 130 degrees.",
        "We wrote down: nerve injury or numbness.",
        "What we agreed: full load.",
        "ring us on 0555 010 2000.",
        "does not replace the advice",
    ):
        assert words in letter
    # The surgeon's own words were written for colleagues.
    assert "Back at work." not in letter


def test_a_film_that_nobody_read_is_told_as_such() -> None:
    unread = replace(BARE, films=(FilmSeen("Zanca film", DAY, ()),))
    assert "- Zanca film, 25 November 2026: not read yet" in visit_note(unread)
    assert "It has not been read yet." in to_patient(unread)


@pytest.mark.parametrize(
    ("operated", "ago"),
    [
        (date(2026, 11, 24), "1 day before"),
        (date(2026, 11, 15), "10 days before"),
        (date(2026, 10, 14), "6 weeks before"),
        (date(2024, 11, 25), "24 months before"),
    ],
)
def test_the_time_since_the_operation_is_told_as_people_tell_it(operated: date, ago: str) -> None:
    assert ago in visit_note(replace(BARE, operated_on=operated))


@pytest.mark.parametrize("kind", COMPOSERS)
def test_every_kind_is_composed_from_the_least_without_gaps(kind: str) -> None:
    text = COMPOSERS[kind](BARE)
    assert "\n\n\n" not in text
    assert "None" not in text


def test_the_hash_is_that_of_all_words() -> None:
    words = content_hash(["Quill, Ada"], "Dr Zoë", "Held.")
    expected = hashlib.sha256('[["Quill, Ada"], "Dr Zoë", "Held."]'.encode()).hexdigest()
    assert words == expected
    assert content_hash(["Quill, Ada"], "Dr Zoë", "Held") != words
