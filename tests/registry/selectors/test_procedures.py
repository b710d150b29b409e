"""The operations of an injury, and what a further one may be."""

from datetime import date

import pytest

from registry.models.procedures import ProcedureKind
from registry.selectors.procedures import kinds_possible, operations_of
from tests import builders

pytestmark = pytest.mark.django_db


def test_the_first_operation_revises_and_removes_nothing() -> None:
    kinds = kinds_possible([])
    assert ProcedureKind.FIXATION in kinds
    assert ProcedureKind.REVISION_FIXATION not in kinds
    assert ProcedureKind.IMPLANT_REMOVAL not in kinds


def test_after_a_fixation_there_is_no_second_one() -> None:
    kinds = kinds_possible([builders.procedure()])
    assert ProcedureKind.FIXATION not in kinds
    assert {ProcedureKind.REVISION_FIXATION, ProcedureKind.IMPLANT_REMOVAL} <= set(kinds)


def test_operations_come_in_the_order_in_which_they_were_done() -> None:
    first = builders.procedure()
    later = builders.procedure(
        first.injury,
        kind="revision_fixation",
        revises=first,
        performed_on=date(2026, 7, 1),
    )
    builders.procedure()
    assert operations_of(first.injury) == [first, later]
