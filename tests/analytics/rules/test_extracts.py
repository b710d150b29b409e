import pytest

from analytics.rules import extracts
from analytics.rules.dictionary import ENTRIES


def names(made: dict[str, list[tuple[str, object]]]) -> dict[str, list[str]]:
    return {
        table: [entry.name for _, entry in columns]  # type: ignore[attr-defined]
        for table, columns in made.items()
    }


def test_what_would_undo_the_moving_of_days_is_not_offered() -> None:
    offered = {f"{one.table}.{one.name}" for one in extracts.offered()}
    assert not offered & set(extracts.NEVER)
    assert "cases.performed_day" in offered
    assert extracts.unknown(["cases.order_at_site", "cases.case", "cases.sex", "cases.name"]) == [
        "cases.case",
        "cases.name",
        "cases.order_at_site",
    ]


def test_every_column_of_the_data_set_is_offered_there_always_or_refused_with_a_reason() -> None:
    offered = {f"{one.table}.{one.name}" for one in extracts.offered()}
    for one in ENTRIES:
        always = one.name in extracts.ALWAYS.get(one.table, ("case",))
        whole = f"{one.table}.{one.name}"
        assert (whole in offered) + always + (whole in extracts.NEVER) == 1, whole


def test_only_tables_of_which_something_was_chosen_are_there_with_what_joins_them() -> None:
    made = extracts.entries(["cases.age_years", "readings.taken_day"], "shifted", "years")
    assert names(made) == {
        "cases": ["case", "patient", "site", "age_years"],
        "readings": ["case", "film", "taken_on"],
    }


@pytest.mark.parametrize(
    ("dates", "called"), [("shifted", "on"), ("month", "month"), ("quarter", "quarter")]
)
def test_a_day_is_called_by_how_it_is_told(dates: str, called: str) -> None:
    made = extracts.entries(["motion.day", "readings.read_day", "cases.age_years"], dates, "bands")
    assert names(made)["motion"] == ["case", called]
    assert names(made)["readings"][-1] == f"read_{called}"
    assert names(made)["cases"][-1] == "age_band"


def test_how_long_somebody_waited_is_no_day() -> None:
    made = extracts.entries(["cases.days_to_surgery"], "month", "bands")
    assert names(made)["cases"][-1] == "days_to_surgery"


@pytest.mark.parametrize(
    ("number", "said"),
    [
        (0, "none"),
        (1, "1 to 7"),
        (7, "1 to 7"),
        (8, "about 10"),
        (12, "about 10"),
        (13, "about 15"),
    ],
)
def test_a_few_are_not_counted(number: int, said: str) -> None:
    assert extracts.about_so_many(number) == said
