"""Cases that were taken out come in again, and come out the same."""

import io
from typing import Any

import pytest

from followup.services import case_export, imports
from followup.services.import_plans import How
from registry.models import Procedure
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup.case_files import case, file_of
from tests.followup.services.test_imported_cases import FULL

pytestmark = pytest.mark.usefixtures("defaults")
ROWS = (
    case(1),
    FULL,
    case(3, birth_date="1961", injury_date="2025-03", procedure_date="2025-04-02", bmi="unknown"),
    case(
        4,
        construct_type="HP",
        film_view="zanca",
        film_calibration="none",
        baseline_film_date="2025-02-08",
        baseline_ccd_ratio_pct="4.5",
        f6w_date="2025-03-20",
        f6w_ccd_ratio_pct="not done",
        f6w_union="not_applicable",
        f6w_quickdash="unknown",
        f6w_pain="3",
        removal_date="2025-07-08",
        removal_planned="yes",
        moved_on="2026-01-05",
        phone="+44 20 7946 0000",
    ),
    case(5, family_name="O'Neill-=1", given_name="=cmd", side="right"),
)


def take(source: io.BytesIO, site: str) -> None:
    for code in ("north", "south"):
        builders.site(code)
    builders.person("selma", north="surgeon", south="surgeon")
    result = imports.import_cases(
        source=source,
        file_name="cases.csv",
        site=builders.site(site),
        by=builders.person("connie", north="coordinator"),
        now=NOW,
        how=How(TODAY),
    )
    assert result.faults == ()
    assert result.added == len(ROWS)


def out(site: str) -> tuple[str, case_export.Written]:
    text = io.StringIO(newline="")
    written = case_export.write(text, builders.site(site))
    return text.getvalue(), written


def test_out_in_and_out_again_is_equal() -> None:
    take(file_of(*ROWS), "north")
    first, written = out("north")
    assert (written.rows, written.left) == (len(ROWS), [])
    take(io.BytesIO(first.encode()), "south")
    assert out("south")[0] == first


def test_what_was_given_comes_out_as_it_was_given() -> None:
    take(file_of(*ROWS), "north")
    head, *lines = out("north")[0].splitlines()
    names = head.split(",")
    kept = dict(zip(names, lines[3].split(","), strict=True))
    for name, value in ROWS[3].items():
        assert kept[name] == value, name


def test_no_cell_can_run_and_names_come_back_letter_by_letter() -> None:
    take(file_of(*ROWS), "north")
    text = out("north")[0]
    assert ",'=cmd," in text
    take(io.BytesIO(text.encode()), "south")
    whose = Procedure.objects.filter(site__code="south").order_by("id").last()
    assert whose.injury.patient.identity.given_name == "=cmd"


def test_what_has_no_place_is_counted_and_named(monkeypatch: pytest.MonkeyPatch) -> None:
    take(file_of(*ROWS), "north")
    monkeypatch.setattr("followup.selectors.exported_cases.COMPLICATION_NUMBERS", ())
    left = out("north")[1].left
    assert left
    assert "further unwanted events" in left[0]


def test_who_may_not_see_names_gets_none() -> None:
    take(file_of(*ROWS), "north")
    text = "".join(case_export.lines(builders.site(), case_export.Written(), case_export.unnamed))
    assert "Anders" not in text
    assert "000001" not in text
    assert "lateral_clavicle" in text


def test_queries_do_not_grow_with_the_cases(counted: Any) -> None:
    def cost() -> int:
        with counted() as queries:
            out("north")
        return len(queries)

    take(file_of(*ROWS), "north")
    few = cost()
    more = tuple(case(n) for n in range(10, 30))
    result = imports.import_cases(
        source=file_of(*more),
        file_name="more.csv",
        site=builders.site(),
        by=builders.person("connie", north="coordinator"),
        now=NOW,
        how=How(TODAY),
    )
    assert result.added == 20
    assert cost() == few
