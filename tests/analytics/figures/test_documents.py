import json
from datetime import date

from analytics.figures.documents import CAUTIONS, document, plain
from analytics.figures.section_outcomes import section
from analytics.figures.sections import About
from tests.analytics.figures.results import result

ABOUT = About("index procedures", date(2026, 11, 25))


def made(*, outside: bool = False) -> dict[str, object]:
    held = section("held", "Did it hold?", result({"LP": (12, 6, 3)}), ABOUT)
    whole = document(
        title="For the meeting",
        sites=["North Hospital", "South Hospital"],
        cohort="index procedures",
        cutoff=ABOUT.cutoff,
        facts={"code_version": "0.1.0"},
        sections=[held],
        outside=outside,
    )
    assert set(whole.drawings) == {"held-1", "held-2"}
    return plain(whole)


def test_a_document_is_plain_values_with_its_head_and_facts() -> None:
    values = made()
    assert json.loads(json.dumps(values)) == values
    assert values["head"] == "Index procedures; data up to 25 Nov 2026"
    assert values["sites"] == "North Hospital, South Hospital"
    assert values["facts"] == [["code version", "0.1.0"]]


def test_the_appendix_comes_last_and_the_cautions_are_said_once() -> None:
    values = made()
    sections = values["sections"]
    assert isinstance(sections, list)
    assert [one["key"] for one in sections] == ["held", "methods"]
    assert json.dumps(values).count(CAUTIONS[0]) == 1


def test_each_cell_knows_its_column() -> None:
    sections = made()["sections"]
    assert isinstance(sections, list)
    first = sections[0]["tables"][0]["cells"][0]
    assert first[0] == {"text": "LP", "word": "Group", "number": False}
    assert first[1] == {"text": "21", "word": "Operated", "number": True}


def test_what_is_for_outside_says_so() -> None:
    assert made()["outside"] == ""
    assert "small numbers hidden" in str(made(outside=True)["outside"])
