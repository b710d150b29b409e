import pytest

from analytics.rules.alert_mail_words import body, subject


def test_the_subject_counts() -> None:
    assert subject(["lost"]) == "A reduction may be lost"
    assert subject(["near"]) == "A reduction to look at"
    assert subject(["near", "lost", "near"]) == "3 reductions to look at"


def test_the_text_counts_by_level_and_says_where_they_wait() -> None:
    said = body(["near", "lost", "near"], "North Hospital", "http://x.invalid/films/lost/")
    assert "North Hospital, by films that were read" in said
    assert "- 1 lost by the definition of the site" in said
    assert "- 2 within measurement error" in said
    assert "http://x.invalid/films/lost/" in said
    assert "lost by" not in body(["near"], "North", "http://x.invalid/")


def test_about_nothing_there_are_no_words() -> None:
    with pytest.raises(ValueError, match="says nothing"):
        subject([])
    with pytest.raises(ValueError, match="says nothing"):
        body([], "North", "http://x.invalid/")
