"""What a simulated case says of itself."""

from datetime import date

from analytics.simulation.cohort import generate


def test_the_first_later_operation_of_a_kind_is_found() -> None:
    cases = list(generate(300, sites=1, seed=3, until=date(2026, 11, 25)))
    removed = [case for case in cases if case.first_later("implant_removal")]
    assert removed
    for case in cases:
        of_kind = [one for one in case.later if one.kind == "implant_removal"]
        assert case.first_later("implant_removal") == (of_kind[0] if of_kind else None)
        assert all(one.on >= case.performed_on for one in case.later)


def test_a_case_names_its_construct_and_its_day() -> None:
    case = next(generate(5, sites=1, seed=3, until=date(2026, 11, 25)))
    assert case.construct_type == case.construct.construct_type
    assert case.performed_on == case.operation["performed_on"]
