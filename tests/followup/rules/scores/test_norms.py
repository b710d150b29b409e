import pytest

from followup.rules.scores.norms import TABLES, against_other_side, expected, relative

ORIGINAL, AMERICAN = TABLES["constant-1986"], TABLES["katolik-2005"]


@pytest.mark.parametrize(
    ("age", "sex", "norm"),
    [
        (21, "male", 98),
        (30, "female", 97),
        (31, "male", 93),
        (45, "female", 80),
        (60, "male", 90),
        (90, "female", 64),
    ],
)
def test_the_norm_is_that_of_the_age_band_and_sex(age: int, sex: str, norm: float) -> None:
    assert expected(ORIGINAL, age=age, sex=sex).value == norm


def test_the_bands_of_a_table_follow_each_other_without_a_gap() -> None:
    for table in TABLES.values():
        for (_, last, *_), (first, *_) in zip(table.rows, table.rows[1:], strict=False):
            assert first == last + 1


def test_no_table_passes_for_checked_while_its_numbers_are_from_memory() -> None:
    assert all("from memory" in table.status for table in TABLES.values())


@pytest.mark.parametrize(
    ("age", "sex", "says"),
    [
        (20, "male", "goes from 21 to 90 years, and the age is 20"),
        (91, "female", "goes from 21 to 90 years, and the age is 91"),
        (40, "other", "men and women only, and the sex recorded is 'other'"),
        (40, "unknown", "the sex recorded is 'unknown'"),
    ],
)
def test_who_is_not_in_the_table_gets_no_number(age: int, sex: str, says: str) -> None:
    refused = relative(70, ORIGINAL, ages=(age, age), sex=sex)
    assert refused.value is None
    assert says in refused.reason


def test_a_score_is_a_share_of_its_norm() -> None:
    # 72 / 90 x 100 and 72 / 80 x 100: a man of 55 and a woman of 45
    assert relative(72, ORIGINAL, ages=(55, 55), sex="male").value == pytest.approx(80)
    assert relative(72, ORIGINAL, ages=(45, 45), sex="female").value == pytest.approx(90)
    # 90 / 80 x 100: more than the norm is more than 100
    assert relative(90, ORIGINAL, ages=(45, 45), sex="female").value == pytest.approx(112.5)


def test_a_birth_date_known_in_part_counts_when_both_ages_have_one_norm() -> None:
    assert relative(72, ORIGINAL, ages=(54, 55), sex="male").value == pytest.approx(80)
    unclear = relative(72, ORIGINAL, ages=(50, 51), sex="male")
    assert unclear.reason == (
        "the age lies between 50 and 51, for which constant-1986 has two norms"
    )


def test_the_table_is_named_with_its_version() -> None:
    assert AMERICAN.label == "katolik-2005, version 1"


def test_a_score_is_a_share_of_the_other_shoulders() -> None:
    # 60 / 80 x 100
    assert against_other_side(60, 80).value == pytest.approx(75)
    assert against_other_side(60, 0).reason == "the other shoulder's score is 0"
