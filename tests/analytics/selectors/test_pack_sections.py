import pytest

from analytics.figures.methods import METHODS
from analytics.selectors.cohorts import rule_from
from analytics.selectors.pack_asked import Asked
from analytics.selectors.pack_sections import SECTIONS
from analytics.services import snapshots
from tests import builders
from tests.analytics.records import calls_its_own, complication, held, lost
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def asked(**address: str) -> Asked:
    snapshot = snapshots.refresh(now=NOW, today=TODAY)
    frames = snapshots.frames_of(snapshot)
    by = builders.person("quentin", north="quality_lead")
    return Asked(rule_from(address), [builders.site("north")], snapshot, frames, by)


def test_every_section_answers_the_same_cohort_with_its_captions() -> None:
    for _ in range(6):
        complication(held(), 30)
    lost(construct="HP")
    made = [section(asked()) for section in SECTIONS]
    assert len({one.key for one in made}) == len(made)
    for one in made:
        assert one.title.endswith("?")
        assert one.sentence
        assert set(one.methods) <= set(METHODS)
        for table in one.tables:
            assert all(len(row) == len(table.head) for row in table.rows)
        for captioned in (*one.tables, *one.figures, *one.beside):
            assert "Cohort: index procedures. Data up to 25 Nov 2026." in captioned.caption


def test_every_question_of_the_pages_has_a_section() -> None:
    titles = {one(asked()).title for one in SECTIONS}
    assert len(titles) == len(SECTIONS) == 20


def test_what_cannot_be_known_by_a_horizon_says_when_it_can() -> None:
    held()
    made = {one.key: one for section in SECTIONS for one in [section(asked(horizon="3m"))]}
    assert "12 months or more" in made["late-united"].sentence
    assert made["late-united"].tables == ()
    assert made["held"].tables


def test_the_chosen_definition_is_that_of_its_endpoint_alone() -> None:
    ask = asked(definition="ratio-50", horizon="6m")
    assert ask.view().definition.id == "ratio-50"
    assert ask.view("union").definition.endpoint == "union"
    assert ask.view("union").rule.horizon == "6m"


def test_every_section_of_an_empty_cohort_says_so() -> None:
    calls_its_own()
    for section in SECTIONS:
        made = section(asked())
        assert made.sentence
        # What others report is there whatever is ours.
        assert made.figures == () or made.key == "literature"


def test_names_of_files_are_given_once() -> None:
    for _ in range(6):
        complication(held(), 30)
    made = [section(asked()) for section in SECTIONS]
    names = [t.name for one in made for t in (*one.tables, *one.beside) if t.name]
    assert len(set(names)) == len(names) > 20
