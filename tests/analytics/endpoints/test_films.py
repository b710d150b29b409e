import pandas as pd
import pytest

from analytics.endpoints.films import confirm, of_case, of_first_construct, per_film, turn
from tests.analytics.cohort import data, film, on


def test_several_readers_of_a_film_are_averaged() -> None:
    readings = data(
        films=[
            film(1, 10.0, 8.0, film_id=7),
            film(1, 11.0, 8.8, film_id=7, reader_id=2),
        ]
    ).readings
    one = per_film(readings).iloc[0]
    assert one["ccd_injured_mm"] == pytest.approx(10.5)
    assert one["ccd_other_mm"] == pytest.approx(8.4)
    assert one["ratio_pct"] == pytest.approx(25.0)


def test_millimetres_count_only_on_calibrated_films_but_a_ratio_counts_everywhere() -> None:
    readings = data(
        films=[
            film(1, 12.0, 10.0, calibrated=False),
            film(2, calibrated=False, ccd_side_ratio_pct=30.0),
            film(3, 12.0, 10.0, ccd_side_ratio_pct=99.0),
        ]
    ).readings
    films = per_film(readings)
    assert films["ccd_injured_mm"].isna().tolist() == [True, True, False]
    assert films["ratio_pct"].to_list() == pytest.approx([20.0, 30.0, 20.0])


def test_a_film_is_united_only_when_every_reader_who_judged_it_says_so() -> None:
    readings = data(
        films=[
            film(90, film_id=1, union="united"),
            film(90, film_id=1, union="partial", reader_id=2),
            film(91, film_id=2, union="united"),
            film(91, film_id=2, union="not_judged", reader_id=2),
            film(92, film_id=3, union="not_judged"),
        ]
    ).readings
    films = per_film(readings).set_index("film_id")
    assert films["united"].tolist() == [False, True, False]
    assert films["judged"].tolist() == [True, True, False]


def test_films_come_by_case_and_date_with_the_preferred_view_first() -> None:
    readings = data(
        films=[
            film(9, view="zanca"),
            film(2, view="axillary"),
            film(2, view="ap"),
            film(2, view="zanca"),
            film(1, view="chest", procedure_id=2),
        ]
    ).readings
    films = per_film(readings)
    assert films[["procedure_id", "view"]].to_numpy().tolist() == [
        [1, "zanca"],
        [1, "ap"],
        [1, "axillary"],
        [1, "zanca"],
        [2, "chest"],
    ]


def test_no_readings_give_no_films_with_the_same_columns() -> None:
    some, none = per_film(data(films=[film(1)]).readings), per_film(data().readings)
    assert none.empty
    assert list(none.columns) == list(some.columns)


def test_each_film_gets_the_value_of_its_case() -> None:
    given = data([{}, {}], [film(1), film(2, procedure_id=2), film(3)])
    values = pd.Series({1: "one", 2: "two"})
    assert of_case(given.readings, values).tolist() == ["one", "two", "one"]


def test_films_from_the_day_of_a_revision_on_show_the_revision() -> None:
    given = data([{"revised_on": on(50)}], [film(49), film(50), film(50), film(51)])
    films = given.readings.assign(lost=[False, False, True, True])
    kept = of_first_construct(films, given.cases)
    assert kept[["taken_on", "lost"]].to_numpy().tolist() == [
        [pd.Timestamp(on(49)), False],
        [pd.Timestamp(on(50)), True],
    ]


def test_the_turn_lies_between_the_last_film_without_and_the_first_with() -> None:
    given = data(
        [{}, {}, {}],
        [
            *(film(day) for day in (2, 40, 90, 180)),
            film(2, procedure_id=2),
        ],
    )
    films = given.readings.assign(lost=[False, False, True, False, False])
    found = turn(films, given.cases.index)
    assert found.loc[1].tolist() == [pd.Timestamp(on(90)), pd.Timestamp(on(40)), 3, 2]
    assert pd.isna(found.loc[2, "event_on"])
    assert found.loc[2, "seen_until"] == pd.Timestamp(on(2))
    assert found.loc[2, ["event_film", "seen_film"]].tolist() == [-1, 5]
    assert found.loc[3, ["event_on", "seen_until"]].isna().all()
    assert found.loc[3, ["event_film", "seen_film"]].tolist() == [-1, -1]


def test_of_one_days_films_any_shows_the_event_and_the_first_names_the_day() -> None:
    given = data(films=[film(2), film(40), film(40), film(90), film(90)])
    films = given.readings.assign(lost=[False, False, False, False, True])
    found = turn(films, given.cases.index).loc[1]
    assert found.tolist() == [pd.Timestamp(on(90)), pd.Timestamp(on(40)), 5, 2]


def test_nobody_turns_where_no_film_shows_the_event() -> None:
    given = data(films=[film(2), film(40)])
    found = turn(given.readings.assign(lost=False), given.cases.index)
    assert found["event_on"].isna().all()
    assert found.loc[1, "seen_until"] == pd.Timestamp(on(40))


@pytest.mark.parametrize(
    ("days", "lost", "revised", "kept", "awaits"),
    [
        ((2, 40, 90), "-LL", None, "-LL", "---"),
        ((2, 40, 90), "-L-", None, "---", "---"),
        ((2, 40, 90), "--L", None, "---", "--L"),
        ((2, 40, 90), "--L", 95, "--L", "---"),
        ((2, 40, 40), "-LL", None, "---", "-LL"),
        ((2, 40, 40, 90), "-L-L", None, "-L-L", "----"),
        ((2, 40, 90, 180), "LL-L", None, "LL--", "---L"),
    ],
)
def test_a_film_counts_once_the_next_one_or_a_revision_confirms_it(
    days: tuple[int, ...], lost: str, revised: int | None, kept: str, awaits: str
) -> None:
    case = {"revised_on": on(revised) if revised else None}
    given = data(
        [case, {}], [*(film(day) for day in days), film(2, procedure_id=2), film(9, procedure_id=2)]
    )
    films = given.readings.assign(lost=[*(one == "L" for one in lost), False, True])
    found = confirm(films, given.cases)

    def drawn(name: str) -> str:
        return "".join("L" if one else "-" for one in found[name])

    # The second case ends with a film that nothing confirms; it says nothing of the first.
    assert drawn("lost") == f"{kept}--"
    assert drawn("awaits") == f"{awaits}-L"


def test_no_films_await_nothing() -> None:
    given = data()
    assert confirm(given.films.assign(lost=False), given.cases).empty


@pytest.mark.parametrize(
    ("readers", "lifted", "holds"),
    [
        (("intact",), False, True),
        (("removed",), False, True),
        (("intact", "loose"), True, False),
        (("broken",), True, False),
        (("unknown", "intact"), False, True),
        (("unknown",), False, False),
    ],
)
def test_hardware_lets_go_when_any_reader_says_so(
    readers: tuple[str, ...], lifted: bool, holds: bool
) -> None:
    rows = [film(9, film_id=1, hardware=one, reader_id=at) for at, one in enumerate(readers)]
    one = per_film(data(films=rows).readings).iloc[0]
    assert (one["lifted"], one["holds"]) == (lifted, holds)
