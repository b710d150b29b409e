from followup.rules.case_facts import RowFault


def test_a_fault_is_written_in_one_line() -> None:
    fault = RowFault(7, "side", "up", "'up' is not one of: left, right")
    assert str(fault) == "line 7, side 'up': 'up' is not one of: left, right"


def test_a_fault_of_an_empty_cell_shows_no_value() -> None:
    assert str(RowFault(7, "side", "", "must be given")) == "line 7, side: must be given"


def test_a_long_value_is_cut() -> None:
    assert len(str(RowFault(7, "side", "x" * 5000, "too long"))) < 100
