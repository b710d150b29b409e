from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from followup.rules.finding_changes import changes, of_film
from followup.rules.findings import KINDS, STATES, Found

DAYS = [date(2026, 6, 8), date(2026, 7, 17), date(2026, 9, 1), date(2026, 12, 4)]


def screw(state: str, place: str = "") -> Found:
    return Found("screw_backed_out", state, place=place)


def erosion(grade: int) -> Found:
    return Found("acromial_erosion", "present", grade)


def course(*films: Found | None) -> list[tuple[str, ...]]:
    found = [of_film([[one]] if one else []) for one in films]
    return changes(zip(DAYS, found, strict=False))


def test_what_was_absent_and_is_there_is_new_and_said_once() -> None:
    told = course(screw("absent"), screw("present", "lateral"), screw("present", "lateral"))
    assert told == [(), ("new: screw backed out, lateral",), ()]


def test_a_film_that_did_not_look_is_passed_over() -> None:
    assert course(screw("absent"), None, screw("present"))[2] == ("new: screw backed out",)
    unsure = course(screw("absent"), screw("not_assessable"), screw("present"))
    assert unsure == [(), (), ("new: screw backed out",)]


def test_what_nobody_had_looked_for_is_not_called_new() -> None:
    assert course(None, screw("present"))[1] == ("seen, not looked for before: screw backed out",)


def test_another_grade_or_place_is_a_change() -> None:
    (worse,) = course(erosion(1), erosion(3))[1]
    assert worse.startswith("changed: erosion of the acromion grade 3 (more than half of its")
    assert worse.endswith(", before grade 1")
    moved = course(screw("present", "lateral"), screw("present", "both"))
    assert moved[1] == (
        "changed: screw backed out, lateral and in the shaft, before: screw backed out, lateral",
    )


def test_what_is_gone_or_cannot_be_judged_any_more_is_said() -> None:
    told = course(screw("present"), screw("not_assessable"), screw("absent"), screw("absent"))
    assert told[1:] == [
        ("cannot be judged now: screw backed out",),
        ("no longer seen: screw backed out",),
        (),
    ]


def test_two_readers_of_a_film_make_one_and_who_sees_it_is_heard() -> None:
    joined = of_film([[screw("absent"), erosion(1)], [screw("present"), erosion(2)]])
    assert joined == {"screw_backed_out": screw("present"), "acromial_erosion": erosion(2)}


def test_films_of_one_day_are_held_against_the_day_before_and_not_against_each_other() -> None:
    films = [
        (DAYS[0], of_film([[screw("absent")]])),
        (DAYS[1], of_film([[screw("present")]])),
        (DAYS[1], of_film([[screw("absent")]])),
        (DAYS[2], of_film([[screw("present")]])),
    ]
    assert changes(films) == [(), ("new: screw backed out",), (), ()]


FOUND = st.builds(
    lambda kind, state: Found(
        kind, state, 1 if state == "present" and KINDS[kind].grades else None
    ),
    st.sampled_from(sorted(KINDS)),
    st.sampled_from(sorted(STATES)),
)


@given(st.lists(st.lists(FOUND, max_size=4), max_size=4))
def test_no_film_is_left_out_and_the_same_film_again_changes_nothing(
    films: list[list[Found]],
) -> None:
    dated = [(on, of_film([found])) for on, found in zip(DAYS, films, strict=False)]
    told = changes(dated)
    assert len(told) == len(dated)
    if dated:
        # Only what cannot be judged though it was there before is said again.
        again = changes([*dated, (date(2027, 3, 5), dated[-1][1])])[-1]
        assert all(line.startswith("cannot be judged now") for line in again)
