"""What a file would add is told from the record and from its own lines."""

import io
from typing import Any

import pytest

from followup.services import import_plans, imports
from followup.services.import_plans import How, Plan
from registry.errors import BadInput
from registry.models import ConstructType, Site
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup.case_files import HEADER, case, file_of

pytestmark = pytest.mark.usefixtures("defaults")


def plan(*rows: dict[str, str], site: Site | None = None) -> Plan:
    place = site or builders.site()
    return import_plans.plan(file_of(*rows), place, How(TODAY))


def faults(found: Plan) -> list[str]:
    return [str(fault) for one in found.rejected for fault in one.faults]


def record(*rows: dict[str, str]) -> None:
    imports.import_cases(
        source=file_of(*rows),
        file_name="cases.csv",
        site=builders.site(),
        by=builders.person("connie", north="coordinator"),
        now=NOW,
        how=How(TODAY),
    )


def test_good_rows_are_planned_in_their_order() -> None:
    found = plan(case(2), case(1))
    assert [one.case.person.local_id for one in found.good] == ["000002", "000001"]
    assert [one.who.patient for one in found.good] == [None, None]
    assert (found.rows_read, found.has_faults) == (2, False)


def test_a_patient_whom_the_site_knows_is_found_by_number() -> None:
    record(case(1))
    found = plan(case(1, side="right"))
    assert found.good[0].who.patient is not None
    assert plan(case(1, side="right"), site=builders.site("south")).good[0].who.patient is None


def test_one_number_cannot_have_two_birth_dates() -> None:
    assert faults(plan(case(1), case(1, side="right", birth_date="1990"))) == [
        (
            "line 3, birth_date '1990': line 2 gives this number another birth date; "
            "one number is one patient"
        )
    ]


def test_a_birth_date_known_in_part_fits_the_whole_one() -> None:
    assert not plan(case(1), case(1, side="right", birth_date="1986")).has_faults


def test_one_number_cannot_have_two_names() -> None:
    record(case(1))
    other = {"side": "right", "family_name": "Berg", "given_name": "Ida"}
    assert faults(plan(case(1, **other))) == [
        (
            "line 2, family_name 'Berg': the record gives this number another name; "
            "one number is one patient"
        )
    ]


def test_a_changed_family_name_and_swapped_names_are_the_same_patient() -> None:
    record(case(1))
    swapped = {"family_name": "Milab", "given_name": "ANDERSB"}
    assert not plan(case(1, side="right", family_name="Berg")).has_faults
    assert not plan(case(1, side="right", **swapped)).has_faults


def test_the_record_is_not_told_to_who_may_not_read_it() -> None:
    record(case(1))
    said = " ".join(faults(plan(case(1, side="right", birth_date="1990"))))
    assert "1986" not in said
    assert "Anders" not in said


def test_two_lines_on_one_operation_that_differ_are_a_fault() -> None:
    assert faults(plan(case(1), case(1, smoking="never"))) == [
        (
            "line 3, procedure_date '2025-02-06': line 2 gives this operation too, and says "
            "something else; keep one"
        )
    ]


def test_the_same_line_twice_is_known_the_second_time() -> None:
    found = plan(case(1), case(1))
    assert ([one.line for one in found.known], len(found.good)) == ([3], 1)


def test_a_row_that_is_rejected_does_not_count_against_later_lines() -> None:
    found = plan(case(1, birth_date="1990", smoking="often"), case(1))
    assert [one.row.line for one in found.rejected] == [2]
    assert len(found.good) == 1


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"procedure_date": "2025-09-01"}, "2025-09-01 is after the death (2025-08-01, line 2)"),
        ({"died_on": "2025-08-02"}, "line 2 says: died on 2025-08-01; keep one"),
        ({"moved_on": "2025-03-01"}, "line 2 says: died on 2025-08-01; keep one"),
    ],
)
def test_how_follow_up_ended_cannot_be_told_in_two_ways(cells: dict[str, str], words: str) -> None:
    found = plan(case(1, died_on="2025-08-01"), case(1, side="right", **cells))
    assert words in faults(found)[0]


def test_the_recorded_end_holds_as_well() -> None:
    record(case(1, died_on="2025-08-01"))
    assert "(2025-08-01, the record)" in faults(plan(case(1, procedure_date="2025-09-01")))[0]


def test_nobody_dies_before_an_operation_of_an_earlier_line() -> None:
    later = case(1, side="right", procedure_date="2025-09-01")
    found = plan(later, case(1, died_on="2025-08-01"))
    assert "is before this patient's operation of 2025-09-01" in faults(found)[0]


def test_a_construct_type_that_is_out_of_use_cannot_be_given() -> None:
    ConstructType.objects.filter(code="TG").update(is_active=False)
    assert "construct_type 'TG'" in faults(plan(case(construct_type="TG")))[0]


def test_only_surgeons_of_the_site_are_known() -> None:
    builders.person("selma", north="surgeon")
    builders.person("steve", south="surgeon")
    found = plan(case(1, surgeon="selma"), case(2, surgeon="steve"))
    assert [one.row.line for one in found.rejected] == [3]


def test_a_row_that_is_cut_off_is_rejected_as_a_whole() -> None:
    whole = file_of(case(1)).getvalue() + b"000002,Berg\n"
    found = import_plans.plan(io.BytesIO(whole), builders.site(), How(TODAY))
    assert found.rejected[0].reason == (
        f"the row has only 2 values where the header names {len(HEADER)}; is it cut off?"
    )


def test_a_file_without_a_row_or_without_a_known_column_is_refused() -> None:
    with pytest.raises(BadInput, match="holds no row"):
        plan()
    nonsense = io.BytesIO(b"one,two\n1,2\n")
    with pytest.raises(BadInput, match="names no column of a file of cases"):
        import_plans.plan(nonsense, builders.site(), How(TODAY))


def test_queries_do_not_grow_with_the_rows(
    django_assert_num_queries: object, counted: object
) -> None:
    record(*(case(n) for n in range(3)))
    few, many = (
        _queries(counted, [case(n, side="right") for n in range(size)]) for size in (6, 40)
    )
    assert few == many


def _queries(counted: Any, rows: list[dict[str, str]]) -> int:
    with counted() as queries:
        plan(*rows)
    return len(queries)
