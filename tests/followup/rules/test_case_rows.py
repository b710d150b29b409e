from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from followup.rules import case_rows
from followup.rules.case_columns.catalogue import BY_NAME, COLUMNS, template
from followup.rules.case_facts import LaterOperation, ParsedCase, RowFault
from registry.rules.dates import Bounds

TODAY = date(2026, 11, 25)
ROW = {
    "local_id": "000417",
    "family_name": "Anders",
    "given_name": "Mila",
    "birth_date": "1986-04-12",
    "injury_kind": "lateral_clavicle",
    "injury_date": "2025-02-03",
    "side": "left",
    "procedure_date": "2025-02-06",
    "construct_type": "LP",
    "film_view": "zanca",
    "film_calibration": "marker",
}


def parsed(**changes: str) -> ParsedCase | list[RowFault]:
    return case_rows.parse_row(
        7,
        {**ROW, **changes},
        known_construct_types=["LP", "HP"],
        known_surgeons=["selma"],
        today=TODAY,
    )


def case(**changes: str) -> ParsedCase:
    found = parsed(**changes)
    assert isinstance(found, ParsedCase), found
    return found


def faults(**changes: str) -> dict[str, str]:
    found = parsed(**changes)
    assert isinstance(found, list)
    return {fault.column: fault.reason for fault in found}


def test_the_smallest_row_is_a_case() -> None:
    found = case()
    assert (found.line, found.person.local_id, found.construct_type) == (7, "000417", "LP")
    assert found.person.birth == Bounds(date(1986, 4, 12), date(1986, 4, 12))
    assert found.procedure["performed_on"] == date(2025, 2, 6)
    assert (found.person.sex, found.surgeon, found.status) == ("unknown", None, "active")
    assert found.visits == found.complications == found.later == ()


def test_a_row_without_what_is_required_names_every_column() -> None:
    required = {column.name for column in COLUMNS if column.required}
    assert set(faults(**dict.fromkeys(required, ""))) == required


def test_all_faults_of_a_row_come_together() -> None:
    found = faults(side="up", construct_type="XX", procedure_date="2024-01-01", bmi="900")
    assert set(found) == {"side", "construct_type", "procedure_date", "bmi"}


def test_a_fault_carries_line_column_and_value() -> None:
    assert parsed(side="up") == [RowFault(7, "side", "up", "'up' is not one of: left, right")]


def test_an_injury_date_known_by_month_keeps_its_bounds() -> None:
    injury = case(injury_date="2025-02").injury
    assert (injury["injured_earliest"], injury["injured_latest"]) == (
        date(2025, 2, 1),
        date(2025, 2, 28),
    )


def test_missing_numbers_keep_their_kind() -> None:
    found = case(bmi="not done", plate_holes="n/a")
    assert found.injury["missing"] == {"bmi_kg_m2": "not_done"}
    assert found.construct["missing"] == {"plate_holes": "not_applicable"}
    assert "bmi_kg_m2" not in found.injury


def test_classes_go_by_their_system() -> None:
    assert case(neer="IIB", rockwood="unknown").classes == {"neer": "IIB"}


def test_a_known_surgeon_is_told_apart_from_the_facts_of_the_operation() -> None:
    found = case(surgeon="Selma", duration_minutes="85")
    assert (found.surgeon, found.procedure["duration_minutes"]) == ("selma", 85)
    assert "surgeon" not in found.procedure


def test_an_unlikely_value_is_flagged_where_it_belongs() -> None:
    found = case(duration_minutes="600")
    assert [flag["field"] for flag in found.procedure["flags"]] == ["duration_minutes"]


def test_a_long_wait_for_the_operation_is_flagged() -> None:
    (flag,) = case(procedure_date="2025-06-06").procedure["flags"]
    assert "123 days is unusual" in flag["message"]


def test_an_age_that_nobody_reaches_is_refused() -> None:
    assert "not possible" in faults(birth_date="1880-01-01")["birth_date"]


def test_a_child_is_flagged_at_the_injury() -> None:
    (flag,) = case(birth_date="2015-01-01").injury["flags"]
    assert "10 years is unusual" in flag["message"]


def test_a_first_film_is_a_visit_with_a_reading() -> None:
    (visit,) = case(
        baseline_film_date="2025-02-08",
        baseline_ccd_injured_mm="9.1",
        baseline_ccd_other_mm="8.9",
        film_posture="upright",
    ).visits
    assert (visit.timepoint, visit.visited_on) == ("baseline", date(2025, 2, 8))
    assert visit.film is not None
    assert (visit.film["view"], visit.film["posture"]) == ("zanca", "upright")
    assert (visit.film["taken_on"], visit.film["shows_both_sides"]) == (date(2025, 2, 8), True)
    assert visit.reading["ccd_injured_mm"] == Decimal("9.1")


def test_a_first_film_may_not_have_been_measured() -> None:
    (visit,) = case(baseline_film_date="2025-02-08").visits
    assert visit.film is not None
    assert visit.film["shows_both_sides"] is False
    assert visit.reading == {}


def test_a_film_may_have_a_view_of_its_own() -> None:
    (visit,) = case(
        f6w_date="2025-03-20", f6w_view="ap", f6w_union="partial", film_view="unknown"
    ).visits
    assert visit.film is not None
    assert (visit.film["view"], visit.film["missing"]) == ("ap", {})


def test_a_visit_may_have_no_film() -> None:
    (visit,) = case(f6w_date="2025-03-20", f6w_pain="3").visits
    assert visit.film is None
    assert visit.score_totals == {"pain_nrs": 3.0}


def test_a_film_that_was_not_done_is_no_film() -> None:
    (visit,) = case(f6w_date="2025-03-20", f6w_ccd_injured_mm="not done").visits
    assert (visit.film, visit.reading) == (None, {})


def test_a_visit_without_findings_is_still_a_visit() -> None:
    (visit,) = case(f6w_date="2025-03-20").visits
    assert (visit.film, visit.motion, visit.score_totals) == (None, {}, {})


def test_motion_is_of_the_injured_side() -> None:
    (visit,) = case(
        side="right", f6w_date="2025-03-20", f6w_flexion_deg="110", f6w_abduction_deg="not done"
    ).visits
    assert (visit.motion["side"], visit.motion["mode"]) == ("right", "active")
    assert visit.motion["flexion_deg"] == 110
    assert visit.motion["missing"] == {"abduction_deg": "not_done"}


def test_a_score_that_could_not_be_had_says_why() -> None:
    (visit,) = case(f6w_date="2025-03-20", f6w_quickdash="not done").visits
    assert visit.not_obtainable == {"score:quickdash": "not done"}


def test_visits_come_in_the_order_of_time() -> None:
    found = case(f12m_date="2026-02-10", f6w_date="2025-03-20", baseline_film_date="2025-02-06")
    assert [visit.timepoint for visit in found.visits] == ["baseline", "6w", "12m"]


def test_a_finding_without_its_day_is_refused() -> None:
    assert faults(f6w_pain="3") == {"f6w_date": "must be given, because f6w_pain is"}


def test_a_day_that_cannot_be_read_is_reported_once() -> None:
    found = parsed(f6w_date="soon", f6w_pain="3", f6w_flexion_deg="90")
    assert isinstance(found, list)
    assert [fault.column for fault in found] == ["f6w_date"]


def test_missing_words_need_no_day() -> None:
    assert case(f6w_date="n/a", f6w_union="unknown", f6w_pain="unknown").visits == ()


def test_a_film_without_a_view_is_refused() -> None:
    assert "say the view" in faults(film_view="", baseline_film_date="2025-02-08")["baseline_view"]


@pytest.mark.parametrize("calibration", ["", "none", "unknown"])
def test_a_length_on_a_film_without_calibration_is_refused(calibration: str) -> None:
    found = faults(film_calibration=calibration, f6w_date="2025-03-20", f6w_ccd_injured_mm="9.1")
    assert "give the ratio instead" in found["f6w_ccd_injured_mm"]


def test_a_ratio_needs_no_calibration() -> None:
    (visit,) = case(film_calibration="none", f6w_date="2025-03-20", f6w_ccd_ratio_pct="26").visits
    assert visit.reading["ccd_side_ratio_pct"] == Decimal("26.0")


def test_lengths_and_a_ratio_that_could_contradict_are_refused() -> None:
    found = faults(
        f6w_date="2025-03-20",
        f6w_ccd_injured_mm="9",
        f6w_ccd_other_mm="9",
        f6w_ccd_ratio_pct="50",
    )
    assert set(found) == {"f6w_ccd_ratio_pct"}


def test_unwanted_events_are_read_with_their_grade() -> None:
    events = case(
        complication_1_kind="nonunion",
        complication_1_date="2025-09-01",
        complication_3_kind="stiffness",
        complication_3_date="2025-10-01",
        complication_3_grade="II",
    ).complications
    assert [event["kind"] for event in events] == ["nonunion", "stiffness"]
    assert events[1]["grade"] == "II"
    assert "grade" not in events[0]


@pytest.mark.parametrize(
    ("given", "lacks"),
    [
        ({"complication_1_kind": "nonunion"}, "complication_1_date"),
        ({"complication_1_date": "2025-09-01"}, "complication_1_kind"),
        ({"complication_2_grade": "II"}, "complication_2_kind"),
        ({"removal_planned": "yes"}, "removal_date"),
        ({"revision_construct_type": "HP"}, "revision_date"),
    ],
)
def test_half_an_event_is_refused(given: dict[str, str], lacks: str) -> None:
    assert "must be given" in faults(**given)[lacks]


def test_later_operations_come_in_the_order_of_time() -> None:
    later = case(
        removal_date="2025-05-01",
        removal_planned="no",
        revision_date="2025-04-01",
        revision_construct_type="hp",
    ).later
    assert later == (
        LaterOperation("revision_fixation", date(2025, 4, 1), "HP"),
        LaterOperation("implant_removal", date(2025, 5, 1), planned=False),
    )


def test_a_removal_leaves_open_whether_it_was_planned() -> None:
    (removal,) = case(removal_date="2025-05-01").later
    assert removal.planned is None


@pytest.mark.parametrize(
    ("column", "status"),
    [("died_on", "died"), ("withdrew_on", "withdrawn"), ("moved_on", "moved")],
)
def test_the_end_of_follow_up_has_its_date(column: str, status: str) -> None:
    found = case(**{column: "2025-09-01"})
    assert (found.status, found.status_on) == (status, date(2025, 9, 1))


def test_follow_up_ends_only_once() -> None:
    assert "keep the one" in faults(died_on="2025-09-01", moved_on="2025-08-01")["moved_on"]


def test_an_operation_before_the_injury_is_refused() -> None:
    assert "before injury_date" in faults(procedure_date="2025-02-01")["procedure_date"]


def test_the_rows_of_the_template_can_be_imported() -> None:
    header, rows = template()
    for line, row in enumerate(rows, start=2):
        found = case_rows.parse_row(
            line,
            dict(zip(header, row, strict=True)),
            known_construct_types=["LP+A1", "HP"],
            known_surgeons=[],
            today=TODAY,
        )
        assert isinstance(found, ParsedCase), found


def test_an_order_of_dates_that_is_not_known_is_an_error() -> None:
    with pytest.raises(ValueError, match="month_first"):
        case_rows.parse_row(
            2,
            ROW,
            known_construct_types=[],
            known_surgeons=[],
            today=TODAY,
            date_order="month_first",
        )


def test_dates_with_the_day_first_are_read_when_that_is_stated() -> None:
    found = case_rows.parse_row(
        2,
        {**ROW, "procedure_date": "06.02.2025"},
        known_construct_types=["LP"],
        known_surgeons=[],
        today=TODAY,
        date_order="day_first",
    )
    assert isinstance(found, ParsedCase)
    assert found.procedure["performed_on"] == date(2025, 2, 6)


def test_a_header_with_every_required_column_is_good_in_any_case_and_order() -> None:
    names = [column.name.upper() for column in reversed(COLUMNS)]
    assert case_rows.check_header([*names, "Reason"]) == []


def test_a_column_that_is_not_known_is_named_with_the_nearest() -> None:
    required = [column.name for column in COLUMNS if column.required]
    (fault,) = case_rows.check_header([*required, "procedur_date"])
    assert (fault.line, fault.column) == (1, "procedur_date")
    assert "did you mean 'procedure_date'?" in fault.reason


def test_required_columns_that_lack_are_named() -> None:
    faults = case_rows.check_header(["local_id", "qqqqqq"])
    assert {fault.column for fault in faults} == {
        "qqqqqq",
        *(c.name for c in COLUMNS if c.required and c.name != "local_id"),
    }


def test_the_same_row_has_the_same_fingerprint_whatever_the_order_of_columns() -> None:
    turned = {name: ROW[name] for name in reversed(ROW)}
    assert case_rows.fingerprint(turned) == case_rows.fingerprint({**ROW, "phone": " "})


def test_a_changed_cell_changes_the_fingerprint() -> None:
    assert case_rows.fingerprint({**ROW, "bmi": "24"}) != case_rows.fingerprint(ROW)


def test_a_reason_that_was_added_changes_no_fingerprint() -> None:
    assert case_rows.fingerprint({**ROW, "reason": "x"}) == case_rows.fingerprint(ROW)


@settings(max_examples=150, deadline=None)
@given(
    st.dictionaries(
        st.sampled_from(sorted(BY_NAME)),
        st.one_of(
            st.text(max_size=12),
            st.sampled_from(["unknown", "not done", "2025-03-01", "2025-13-01", "7", "-3", "yes"]),
        ),
        max_size=12,
    )
)
def test_any_row_becomes_a_case_or_a_list_of_faults(changes: dict[str, Any]) -> None:
    found = parsed(**changes)
    assert isinstance(found, ParsedCase) or found
