import pytest

from registry.rules import batches
from registry.rules.notice_matching import (
    Certainty,
    PartFacts,
    Scope,
    article_key,
    judge,
    match,
)

PLATE = "09506000134352"
RECALL = Scope(device_identifier=PLATE, batch=batches.span("LOT42A"))
BY_BOTH = Scope(device_identifier=PLATE, catalogue_number="P-6", batch=batches.span("LOT42A"))


@pytest.mark.parametrize(
    ("scope", "part", "certainty"),
    [
        (RECALL, PartFacts(PLATE, "", "lot 42a"), "certain"),
        (RECALL, PartFacts("9506000134352", "", "LOT-42A"), "certain"),
        (RECALL, PartFacts(PLATE, "", "LOT42A21SN0042"), "near"),
        (RECALL, PartFacts(PLATE, "", ""), "not_excluded"),
        (RECALL, PartFacts("", "P-6", "LOT42A"), "near"),
        (RECALL, PartFacts("", "P-6", ""), None),
        (RECALL, PartFacts("09506000134369", "", "LOT42A"), None),
        (RECALL, PartFacts(PLATE, "", "LOT43"), None),
        (BY_BOTH, PartFacts(PLATE, "", "LOT42A"), "certain"),
        (BY_BOTH, PartFacts("", "p 6", "LOT42A"), "certain"),
        (BY_BOTH, PartFacts(PLATE, "P-7", "LOT42A"), "near"),
        (BY_BOTH, PartFacts("09506000134369", "P-7", "LOT42A"), None),
        (Scope(batch=batches.span("LOT42A")), PartFacts("", "", "lot42a"), "certain"),
        (Scope(batch=batches.span("LOT42A")), PartFacts(PLATE, "", ""), None),
        (Scope(catalogue_number="P-6"), PartFacts("", "P6"), "certain"),
        (
            Scope(device_identifier=PLATE, serial=batches.span("S1", "S9")),
            PartFacts(PLATE, "", "", "S5"),
            "certain",
        ),
        (
            Scope(PLATE, "", batches.span("LOT42A"), batches.span("S1", "S9")),
            PartFacts(PLATE, "", "LOT42A", ""),
            "not_excluded",
        ),
        (
            Scope(PLATE, "", batches.span("LOT42A"), batches.span("S1", "S9")),
            PartFacts(PLATE, "", "", "s 5"),
            "near",
        ),
    ],
)
def test_a_part_is_certain_near_not_to_be_excluded_or_another(
    scope: Scope, part: PartFacts, certainty: str | None
) -> None:
    found = match(scope, part)
    assert (found.certainty if found else None) == certainty


def test_another_identifier_of_the_same_article_is_near_and_not_another() -> None:
    listed = PartFacts("09506000999999", "", "LOT42A", other_identifiers=(PLATE,))
    found = match(RECALL, listed)
    assert found is not None
    assert found.certainty is Certainty.NEAR
    assert "besides its own" in found.words
    by_hand = match(RECALL, PartFacts("", "", "LOT42A", other_identifiers=(PLATE,)))
    assert by_hand is not None
    assert by_hand.certainty is Certainty.NEAR


def test_a_match_says_in_words_why_it_is_none_for_certain() -> None:
    found = match(RECALL, PartFacts(PLATE, "", "LOT42A21SN0042"))
    assert found is not None
    assert "run together" in found.words
    missing = match(RECALL, PartFacts(PLATE))
    assert missing is not None
    assert "batch not recorded" in missing.words


def test_an_article_of_thirteen_digits_is_the_one_of_fourteen() -> None:
    assert article_key("9506000134352") == article_key("0 9506000 134352")


def test_a_batch_that_nobody_recorded_excludes_nothing_while_the_article_is_the_same() -> None:
    assert judge({"article": "same", "batch": "missing"}) is Certainty.NOT_EXCLUDED
    assert judge({"article": "missing", "batch": "missing"}) is None
    assert match(Scope(), PartFacts(PLATE, "", "LOT42A")) is None
