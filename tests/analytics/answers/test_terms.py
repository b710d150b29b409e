import pytest

from analytics.answers.terms import terms
from analytics.endpoints.catalogue import DEFINITIONS


@pytest.mark.parametrize(
    ("name", "term", "words"),
    [
        ("rise-3mm", "Baseline", "the first measurable film up to day 27"),
        ("rise-3mm", "Compared with", "of the same view and the same posture where both are known"),
        ("rise-3mm", "Threshold", "more than 3 mm"),
        ("rise-3mm", "Second film", "not asked for"),
        ("rise-3mm", "Measurement error", "is said, and counts as the threshold says"),
        ("rise-3mm", "Comes first", "a removal does not: what a film shows after it still counts"),
        ("rise-3mm-confirmed", "Second film", "or a revision fixation, has to confirm"),
        ("rise-3mm-confirmed", "Measurement error", "counts as held whatever the threshold says"),
        ("ratio-25", "Threshold", "at least 25 %"),
        ("ratio-25", "Compared with", "the uninjured other shoulder on the same film"),
        ("ratio-50", "Partial", "held, but over 25 % on the last film"),
        ("fixation-failure", "Threshold", "at least 50 %"),
        ("union-film", "Comes first", "a revision fixation or death ends the watch"),
        ("hardware-irritation", "Comes first", "removal of the implant or death ends the watch"),
    ],
)
def test_each_term_is_said(name: str, term: str, words: str) -> None:
    assert words in terms(DEFINITIONS[name])[term]


def test_only_what_a_definition_has_is_said() -> None:
    assert list(terms(DEFINITIONS["union-film"])) == ["Comes first"]
    assert "Partial" not in terms(DEFINITIONS["rise-3mm"])
    assert "removal" not in terms(DEFINITIONS["nerve"])["Comes first"]
