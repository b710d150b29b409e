import pytest

from analytics.answers import outcomes
from analytics.answers.horizons import HORIZONS
from analytics.answers.sensitivity import answer, to_rows
from analytics.endpoints.catalogue import DEFINITIONS, DELAYED, LOSS, definitions_of
from analytics.endpoints.definition import Data
from tests.analytics.cohort import data, film, on

YEAR = HORIZONS["12m"]
LOSSES = definitions_of(LOSS)


def service() -> Data:
    """Five plates: two lost by one rule only, one by both, one held, one not seen; a hook revised."""
    courses = [(11.2, 8.9), (12.5, 10.4), (20.0, 8.9), (9.0, 8.9), None]
    cases, films = [], []
    for number, later in enumerate(courses, 1):
        cases.append({"construct_type": "LP"})
        films.append(film(2, 8.9, 8.9 if later is None else later[1], procedure_id=number))
        if later:
            films += [film(at, later[0], later[1], procedure_id=number) for at in (90, 380)]
    cases.append({"construct_type": "HP", "revised_on": on(100)})
    films.append(film(2, 8.9, 8.9, procedure_id=6))
    return data(cases, films)


def test_one_cohort_has_another_rate_under_each_definition() -> None:
    found = answer(service(), LOSSES, YEAR)
    events = {line.definition.id: (line.total.events, line.total.evaluable) for line in found.lines}
    assert events == {
        # 8.9 to 12.5 mm is a rise of 3.6 mm, but only a fifth above the other side.
        "rise-3mm": (2, 5),
        "rise-3mm-confirmed": (2, 5),
        # 8.9 to 11.2 mm is a rise of 2.3 mm only, but a quarter above it.
        "ratio-25": (2, 5),
        "difference-5mm": (1, 5),
        "ratio-50": (1, 5),
        "doubled": (1, 5),
        "fixation-failure": (0, 0),
    }


@pytest.mark.parametrize("definition", LOSSES, ids=lambda one: str(one.id))
def test_every_line_has_the_numbers_of_the_table_of_rates(definition: object) -> None:
    table = outcomes.answer(service(), definition, YEAR)  # type: ignore[arg-type]
    (line,) = answer(service(), [definition], YEAR).lines  # type: ignore[list-item]
    for row, tally in zip((table.total, *table.rows), (line.total, *line.groups), strict=True):
        for name in (
            "group",
            "operated",
            "eligible",
            "evaluable",
            "events",
            "competing",
            "rate",
            "bounds",
        ):
            assert getattr(tally, name) == getattr(row, name), name


def test_the_sentence_says_how_far_definitions_and_the_missing_move_the_rate() -> None:
    said = answer(service(), LOSSES[:4], YEAR).sentence
    assert said.startswith(
        "By 12 months the rate runs from 20.0% (Side difference of more than 5 mm) to 40.0% ("
    )
    # 1 of 6 at least; 2 and the one not seen at most.
    assert "between 16.7% and 50.0%" in said
    one = answer(service(), LOSSES[:1], YEAR).sentence
    assert one.startswith("Under each of 1 definitions the rate by 12 months is 40.0%.")


def test_nobody_judged_is_said() -> None:
    assert answer(data([]), LOSSES, YEAR).sentence.startswith("Nobody can be judged at 12 months")


def test_what_cannot_be_known_yet_is_left_out() -> None:
    assert answer(service(), definitions_of(DELAYED), HORIZONS["6m"]).lines == ()


def test_groups_stand_in_order_and_whoever_lacks_one_is_named() -> None:
    given = data([{"neer": "V"}, {"neer": None}, {"neer": "IIB"}])
    (line,) = answer(given, [DEFINITIONS["rise-3mm"]], YEAR, by="neer").lines
    assert [tally.group for tally in line.groups] == ["IIB", "V", "not recorded"]


def test_a_file_has_each_definition_by_group_and_in_all() -> None:
    rows = to_rows(answer(service(), LOSSES[:2], YEAR))
    assert [(row["definition"], row["group"], row["events"]) for row in rows] == [
        ("rise-3mm", "HP", 0),
        ("rise-3mm", "LP", 2),
        ("rise-3mm", "all", 2),
        ("rise-3mm-confirmed", "HP", 0),
        ("rise-3mm-confirmed", "LP", 2),
        ("rise-3mm-confirmed", "all", 2),
    ]


def test_a_column_that_the_cases_lack_is_refused() -> None:
    with pytest.raises(ValueError, match="cases have no column 'shoe_size'"):
        answer(service(), LOSSES, YEAR, by="shoe_size")
