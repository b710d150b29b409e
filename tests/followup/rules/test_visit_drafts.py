from followup.rules.visit_drafts import MOST_CHARACTERS, MOST_FIELDS, kept


def test_findings_and_words_are_kept_and_empty_fields_are_not() -> None:
    typed = {"flexion_deg": "150", "visit_note": "well", "pain_nrs": " ", "union": ""}
    assert kept(typed) == {"flexion_deg": "150", "visit_note": "well"}


def test_no_decision_order_or_confirmation_is_kept_nor_what_the_page_itself_sends() -> None:
    typed = {
        "decision_state": "planned",
        "decision_reason": "hurts",
        "arrange_physiotherapy": "on",
        "checked": "on",
        "version": "3",
        "csrfmiddlewaretoken": "secret",
    }
    assert kept(typed) == {}


def test_a_draft_is_never_long() -> None:
    assert len(kept({"visit_note": "x" * 9000})["visit_note"]) == MOST_CHARACTERS
    assert len(kept({f"f{n}": "1" for n in range(500)})) == MOST_FIELDS
