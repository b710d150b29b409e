"""Every index procedure is a row of its own, and only those of the operations that are asked for."""

from datetime import date
from typing import Any

import pytest

from followup.selectors.exported_cases import HEADER, cases_of
from registry.models import Procedure
from registry.services import enrolment
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def nobody(site: Any, patients: Any) -> dict[int, Any]:
    return {}


def test_operations_without_a_construct_and_voided_ones_are_no_rows() -> None:
    builders.procedure()
    assert len(list(cases_of(Procedure.objects.all(), nobody))) == 1
    connie = builders.person("connie", north="coordinator")
    enrolment.record_procedure(
        injury=builders.injury(of=builders.patient(builders.site(), connie), side="right"),
        values={"kind": "fixation", "performed_on": date(2026, 6, 5)},
        by=connie,
        now=NOW,
        today=TODAY,
    )
    assert len(list(cases_of(Procedure.objects.all(), nobody))) == 1
    assert list(cases_of(Procedure.objects.none(), nobody)) == []


def test_cells_stand_under_our_own_names() -> None:
    builders.procedure()
    (case,) = cases_of(Procedure.objects.all(), nobody)
    assert set(case.cells) <= set(HEADER)
    assert case.cells["procedure_date"]
    assert "family_name" not in case.cells
