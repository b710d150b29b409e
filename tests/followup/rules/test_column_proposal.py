"""Columns of strange files are proposed by name, held against what they hold, each field once."""

import pytest

from followup.rules import column_proposal
from followup.rules.case_columns.catalogue import COLUMNS
from followup.rules.column_proposal import Proposal
from followup.rules.column_survey import Held


def proposed(**columns: tuple[str, ...]) -> dict[str, str]:
    return {one.header: one.column for one in found(**columns)}


def found(**columns: tuple[str, ...]) -> list[Proposal]:
    survey = []
    for values in columns.values():
        held = Held()
        for value in values:
            held.note(value)
        survey.append(held)
    return column_proposal.propose(list(columns), survey, {"construct_type": ["LP", "HP"]})


def of(*headers: str) -> list[str]:
    survey = [Held() for _ in headers]
    return [one.column for one in column_proposal.propose(headers, survey, {})]


def test_our_own_names_are_taken_for_themselves_in_any_order() -> None:
    names = [column.name for column in reversed(COLUMNS)]
    assert of(*names) == names


@pytest.mark.parametrize(
    ("header", "column"),
    [
        ("MRN", "local_id"),
        ("Pat.-Nr.", "local_id"),
        ("Last name", "family_name"),
        ("Vorname", "given_name"),
        ("D.O.B.", "birth_date"),
        ("Geb.-Datum", "birth_date"),
        ("Date of Surgery", "procedure_date"),
        ("OP-Datum", "procedure_date"),
        ("Unfalldatum", "injury_date"),
        ("Unfall am", "injury_date"),
        ("Datum des Unfalls", "injury_date"),
        ("verletzt am", "injury_date"),
        ("OP am", "procedure_date"),
        ("operiert am", "procedure_date"),
        ("Eingriff vom", "procedure_date"),
        ("geb. am", "birth_date"),
        ("geboren am", "birth_date"),
        ("ME am", "removal_date"),
        ("Revision am", "revision_date"),
        ("verstorben am", "died_on"),
        ("6 Wochen: Kontrolle am", "f6w_date"),
        ("Komplikation am", "complication_1_date"),
        ("Seite", "side"),
        ("Implantat", "construct_type"),
        ("6 weeks VAS", "f6w_pain"),
        ("VAS (6 wk)", "f6w_pain"),
        ("1 year QuickDASH", "f12m_quickdash"),
        ("24 Monate Constant", "f24m_constant"),
        ("CC-Abstand 6 Wo [mm]", "f6w_ccd_injured_mm"),
        ("Au\u00dfenrotation 3 Monate", "f3m_external_rotation_deg"),
        ("Postop CCD", "baseline_ccd_injured_mm"),
        ("Complication 2", "complication_2_kind"),
        ("Metallentfernung", "removal_date"),
        ("remarks", ""),
        ("5 weeks VAS", ""),
    ],
)
def test_names_of_the_trade_lead_to_our_fields(header: str, column: str) -> None:
    assert of(header) == [column]


def test_a_field_is_proposed_for_one_column_only() -> None:
    assert of("DOB", "Date of birth", "surname") == ["birth_date", "", "family_name"]


def test_what_a_column_holds_can_speak_against_its_name() -> None:
    assert proposed(side=("left", "right"), date_of_surgery=("yes", "no")) == {
        "side": "side",
        "date_of_surgery": "",
    }
    assert proposed(pain=("1", "2"), DOB=("17 kg", "x")) == {"pain": "", "DOB": ""}


def test_a_whole_name_in_one_column_is_told_by_its_comma() -> None:
    assert proposed(name=("Anders, Mila", "Berg, Ida")) == {"name": "name_family_first"}
    assert proposed(name=("Anders", "Berg"), first_name=("Mila", "Ida")) == {
        "name": "family_name",
        "first_name": "given_name",
    }


def test_the_reason_is_said() -> None:
    reasons = {one.header: one.why for one in found(side=("left",), DOB=("1986",), hobby=("x",))}
    assert reasons == {
        "side": "our own name",
        "DOB": "the same words",
        "hobby": "no field of ours has a name like this",
    }
