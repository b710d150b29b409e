import pytest

from registry.rules import missing


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("unknown", "unknown"),
        (" ? ", "unknown"),
        ("Not Done", "not_done"),
        ("nd", "not_done"),
        ("N/A", "not_applicable"),
        ("not applicable", "not_applicable"),
        ("", None),
        ("0", None),
        ("none", None),
    ],
)
def test_written_words_for_missing_are_told_from_values(text: str, kind: str | None) -> None:
    assert missing.kind_of(text) == kind


def test_every_spelling_means_a_kind() -> None:
    assert set(missing.SPELLINGS.values()) == set(missing.KINDS)


def test_a_field_has_a_value_or_a_kind_of_missing_but_not_both() -> None:
    found = missing.faults({"pain": "not_done", "bmi": "unknown"}, {"pain": 0, "bmi": None})
    assert list(found) == ["pain"]
    assert "keep one of the two" in found["pain"]


def test_a_kind_that_is_none_is_named() -> None:
    assert "'lost' is not a kind of missing" in missing.faults({"bmi": "lost"}, {})["bmi"]


def test_zero_is_a_value() -> None:
    assert missing.words(0, "pain", {}) == "0"


@pytest.mark.parametrize(
    ("kinds", "said"),
    [
        ({}, "not recorded"),
        ({"pain": "unknown"}, "unknown"),
        ({"pain": "not_done"}, "not done"),
        ({"pain": "not_applicable"}, "not applicable"),
    ],
)
def test_missing_is_said_in_words(kinds: dict[str, str], said: str) -> None:
    assert missing.words(None, "pain", kinds) == said
