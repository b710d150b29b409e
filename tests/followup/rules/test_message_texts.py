import json
from pathlib import Path

import pytest

from followup.models.messages import MessagePurpose, TemplateLength
from followup.rules.message_texts import (
    NEEDED,
    PLACEHOLDERS,
    faults_of,
    fill,
    languages,
    text_length,
)

SHIPPED = json.loads(
    (Path(__file__).parents[3] / "fixtures" / "message_templates.json").read_text()
)
SLOT = "On {date} at {time}."
# What the longest of the invented service's values are.
FILLED = {
    "site": "Tarnbridge Hospital",
    "phone": "0555 010 4400",
    "date": "30 September 2026",
    "weekday": "Wednesday",
    "time": "09:00",
    "clinic": "Shoulder clinic",
    "window_from": "1 September 2026",
    "window_to": "30 September 2026",
    "link": "https://follow.example/q/" + "k" * 22,
}


def test_an_unknown_placeholder_is_named_and_the_known_ones_are_offered() -> None:
    faults = faults_of("appointment_booked", "short", "", "On {date} at {time}, {diagnosis}.")
    assert faults["body"].startswith("{diagnosis} is not known here. Known are: {site}, {phone},")
    assert "{weekday}" in faults["body"]


@pytest.mark.parametrize("text", ["On {date} at {time}, {site", "site} on {date} at {time}"])
def test_a_brace_that_stands_alone_is_a_fault(text: str) -> None:
    assert "both braces" in faults_of("appointment_booked", "short", "", text)["body"]


def test_a_placeholder_of_another_purpose_is_not_known() -> None:
    assert "{link} is not known" in faults_of("reminder", "short", "", "{link}")["body"]


def test_a_message_about_a_slot_needs_its_day_and_time() -> None:
    faults = faults_of("appointment_cancelled", "short", "", "Do not come on {date}.")
    assert "{time}, without which" in faults["body"]
    assert "{link}, without which" in faults_of("questionnaire", "short", "", "Hello")["body"]


@pytest.mark.parametrize(
    ("length", "subject", "fault"),
    [
        ("short", "Hello", "no subject"),
        ("long", " ", "needs a subject"),
        ("long", "On {day}", "{day} is not known"),
    ],
)
def test_the_subject_fits_the_length(length: str, subject: str, fault: str) -> None:
    assert fault in faults_of("appointment_booked", length, subject, SLOT)["subject"]


def test_a_link_stands_in_the_text_and_not_in_the_subject() -> None:
    assert "subject" in faults_of("questionnaire", "long", "{link}", "{link}")


def test_a_text_message_has_an_end() -> None:
    faults = faults_of("appointment_booked", "short", "", SLOT + "a" * 480)
    assert "at most 480 characters; this has 500" in faults["body"]


@pytest.mark.parametrize(
    ("text", "places", "parts", "wide"),
    [
        ("", 0, 1, False),
        ("a" * 160, 160, 1, False),
        ("a" * 161, 161, 2, False),
        ("a" * 306, 306, 2, False),
        ("a" * 307, 307, 3, False),
        ("äöüß", 4, 1, False),
        # The euro sign is in the extension and takes two places.
        ("€" * 80, 160, 1, False),
        ("€" * 81, 162, 2, False),
        ("ł" * 70, 70, 1, True),
        ("ł" * 71, 71, 2, True),
        ("ł" * 135, 135, 3, True),
        # Outside the basic plane a letter takes two.
        ("\U0001f600", 2, 1, True),
    ],
)
def test_a_text_is_as_long_as_a_carrier_counts_it(
    text: str, places: int, parts: int, *, wide: bool
) -> None:
    found = text_length(text)
    assert (found.places, found.parts, found.wide) == (places, parts, wide)


def test_the_length_is_said_in_words() -> None:
    assert text_length("a").words == "1 characters: 1 text message"
    assert text_length("ł" * 71).words == (
        "71 characters: 2 text messages because of letters outside the basic alphabet"
    )


def test_values_stand_where_the_placeholders_were_and_are_not_looked_into() -> None:
    assert fill("{site}: {date}", {"site": "{date}", "date": "today"}) == "{date}: today"
    with pytest.raises(KeyError, match="link"):
        fill("{link}", {})


def test_languages_are_tried_from_the_nearest_to_english() -> None:
    assert languages("de-AT", "fr") == ["de-at", "de", "fr", "en"]
    assert languages("", "de") == ["de", "en"]
    assert languages("en", "en") == ["en"]


def test_every_purpose_says_what_may_stand_in_it() -> None:
    assert set(PLACEHOLDERS) == set(MessagePurpose.values)
    assert all(set(needed) <= set(PLACEHOLDERS[purpose]) for purpose, needed in NEEDED.items())


def test_words_are_shipped_for_every_purpose_and_length_in_both_languages() -> None:
    there = {(row["purpose"], row["length"], row["language"]) for row in SHIPPED}
    assert there == {
        (purpose, length, language)
        for purpose in MessagePurpose.values
        for length in TemplateLength.values
        for language in ("en", "de")
    }
    assert len(there) == len(SHIPPED)


@pytest.mark.parametrize("row", SHIPPED, ids=lambda row: f"{row['purpose']}-{row['language']}")
def test_shipped_words_can_be_used_and_say_nothing_of_what_the_patient_has(
    row: dict[str, str],
) -> None:
    assert faults_of(row["purpose"], row["length"], row["subject"], row["body"]) == {}
    told = f"{row['subject']} {row['body']}".lower()
    for word in ("shoulder", "clavicle", "plate", "surgery", "operation", "schulter", "platte"):
        assert word not in told


@pytest.mark.parametrize(
    "row",
    [row for row in SHIPPED if row["length"] == "short"],
    ids=lambda row: f"{row['purpose']}-{row['language']}",
)
def test_a_shipped_text_message_fits_into_one_or_two_parts(row: dict[str, str]) -> None:
    found = text_length(fill(row["body"], FILLED))
    assert not found.wide
    assert found.parts <= 2


@pytest.mark.parametrize(
    "row", SHIPPED, ids=lambda row: f"{row['purpose']}-{row['length']}-{row['language']}"
)
def test_every_shipped_text_says_how_to_get_no_more(row: dict[str, str]) -> None:
    asks = {
        ("en", "short"): "No more messages?",
        ("en", "long"): "Do you not want messages like this?",
        ("de", "short"): "Keine Nachrichten mehr? Bitte anrufen: {phone}.",
        (
            "de",
            "long",
        ): "Möchten Sie solche Nachrichten nicht? Sagen Sie es uns am Telefon: {phone}.",
    }
    assert asks[row["language"], row["length"]] in row["body"]
    assert "{phone}" in row["body"]
