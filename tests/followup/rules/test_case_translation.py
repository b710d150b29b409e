"""Rows of strange files become our own columns, dates year first, codes ours, and nothing is guessed."""

import pytest

from followup.rules import case_translation
from followup.rules.case_columns.catalogue import COLUMNS
from followup.rules.case_facts import RowFault
from followup.rules.case_translation import ColumnUse, Translation
from registry.rules.date_styles import DateStyle

DAY = DateStyle("day_first", 2026)
REQUIRED = tuple(ColumnUse(one.name, one.name) for one in COLUMNS if one.required)


def read(use: ColumnUse, text: str, **settled: object) -> tuple[dict[str, str], list[str]]:
    how = Translation((use,), **settled)  # type: ignore[arg-type]
    written, faults = case_translation.translate(2, {use.header.casefold(): text}, how)
    return written, [fault.reason for fault in faults]


@pytest.mark.parametrize(
    ("use", "text", "written"),
    [
        (ColumnUse("OP", "procedure_date", DAY), " 06.02.2025 ", "2025-02-06"),
        (ColumnUse("OP", "procedure_date", DAY), "06.02.25", "2025-02-06"),
        (ColumnUse("DOB", "birth_date", DAY), "03/1986", "1986-03"),
        (ColumnUse("DOB", "birth_date", DAY), "unknown", "unknown"),
        (ColumnUse("BMI", "bmi"), "23,4", "23,4"),
        (ColumnUse("BMI", "bmi", decimal="comma"), "23,456", "23.456"),
        (ColumnUse("BMI", "bmi"), "23.4 kg/m\u00b2", "23.4"),
        (ColumnUse("CC", "f6w_ccd_ratio_pct"), "-12.5%", "-12.5"),
        (ColumnUse("CC", "f6w_ccd_ratio_pct"), "25 %", "25"),
        (ColumnUse("Flex", "f6w_flexion_deg"), "110\u00b0", "110"),
        (ColumnUse("Dauer", "duration_minutes"), "85 Min.", "85"),
        (ColumnUse("Dauer", "duration_minutes", decimal="thousands"), "1,085", "1085"),
        (ColumnUse("No", "local_id"), "\xa0000417\u200b ", "000417"),
    ],
)
def test_each_column_is_read_in_its_own_way(use: ColumnUse, text: str, written: str) -> None:
    assert read(use, text) == ({use.column: written}, [])


def test_a_date_whose_order_was_not_said_is_a_fault_and_stays_as_it_was() -> None:
    written, faults = read(ColumnUse("OP", "procedure_date"), "03/04/25")
    assert written == {"procedure_date": "03/04/25"}
    assert "can be read in two ways" in faults[0]


def test_words_of_the_site_become_codes_or_nothing() -> None:
    words = {"side": {"li": "left"}, "union": {"-": ""}}
    assert read(ColumnUse("Seite", "side"), "LI", words=words)[0] == {"side": "left"}
    assert read(ColumnUse("Union", "f6w_union"), "-", words=words)[0] == {"f6w_union": ""}
    assert read(ColumnUse("Seite", "side"), "re", words=words)[0] == {"side": "re"}


@pytest.mark.parametrize(
    ("way", "text", "family", "given"),
    [
        ("name_family_first", "Okafor-Lind, Tom A.", "Okafor-Lind", "Tom A."),
        ("name_family_first", "Berg Ida Maria", "Berg", "Ida Maria"),
        ("name_given_first", "Ida Maria Berg", "Berg", "Ida Maria"),
        ("name_given_first", "Berg, Ida", "Berg", "Ida"),
    ],
)
def test_a_whole_name_is_taken_apart(way: str, text: str, family: str, given: str) -> None:
    written, _ = read(ColumnUse("Name", way), text)
    assert written == {"family_name": family, "given_name": given}


def test_a_value_can_hold_for_every_row() -> None:
    written, _ = read(ColumnUse("No", "local_id"), "1", same_for_all={"injury_kind": "ac_joint"})
    assert written == {"injury_kind": "ac_joint", "local_id": "1"}


def test_columns_that_are_left_out_are_named_and_not_read() -> None:
    how = Translation((ColumnUse("No", "local_id"), ColumnUse("Remarks", "")))
    assert how.left_out == ("Remarks",)
    assert case_translation.translate(2, {"no": "1", "remarks": "x"}, how)[0] == {"local_id": "1"}


def test_our_own_columns_are_read_as_themselves() -> None:
    how = case_translation.own(["Local_ID", "side", "reason"])
    assert [use.column for use in how.uses] == ["local_id", "side", ""]


def test_faults_are_told_in_the_words_of_the_file() -> None:
    how = Translation((ColumnUse("OP-Datum", "procedure_date"),))
    faults = [RowFault(2, "procedure_date", "2025-02-06", "x"), RowFault(2, "", "", "y")]
    told = case_translation.in_the_files_words(faults, {"op-datum": "06.02.2025"}, how)
    assert [(one.column, one.value) for one in told] == [("OP-Datum", "06.02.2025"), ("", "")]


def test_a_field_that_is_in_no_column_is_told_by_what_it_means() -> None:
    how = Translation((ColumnUse("OP-Datum", "procedure_date"), ColumnUse("Unfall", "injury_date")))
    faults = [
        RowFault(2, "baseline_view", "", "say the view of this film, here or in film_view"),
        RowFault(2, "procedure_date", "", "2025-02-06 is before injury_date (2025-02-07)"),
    ]
    view, day = case_translation.in_the_files_words(faults, {}, how)
    assert view.column == "view of this film (baseline_view)"
    assert view.reason.endswith(
        "here or in view of the row's films, where not given for one (film_view)"
    )
    assert day.reason == "2025-02-06 is before 'Unfall' (2025-02-07)"
    own = case_translation.own(["procedure_date", "injury_date"])
    assert case_translation.in_the_files_words(faults, {}, own) == faults


@pytest.mark.parametrize(
    ("uses", "same", "says"),
    [
        (REQUIRED, {}, []),
        (
            REQUIRED[1:],
            {},
            ["No column gives the patient's number at this site (local_id); a case needs them."],
        ),
        (
            (*REQUIRED, ColumnUse("Again", "local_id")),
            {},
            ["local_id is given by two columns, 'local_id' and 'Again'; keep one."],
        ),
        (
            (*REQUIRED, ColumnUse("Name", "name_family_first")),
            {},
            [
                "family_name is given by two columns, 'family_name' and 'Name'; keep one.",
                "given_name is given by two columns, 'given_name' and 'Name'; keep one.",
            ],
        ),
        (REQUIRED, {"side": "left"}, ["side is given by 'side' and for all rows; keep one."]),
        ((*REQUIRED, ColumnUse("X", "nothing")), {}, ["'nothing' is no field of ours (X)."]),
    ],
)
def test_what_was_settled_is_held_together(
    uses: tuple[ColumnUse, ...], same: dict[str, str], says: list[str]
) -> None:
    assert case_translation.faults(Translation(uses, same)) == says
