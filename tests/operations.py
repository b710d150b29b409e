"""Operations that are moved to another injury, for tests."""

from datetime import date
from typing import Any

from followup.selectors.operation_moves import choosable, offered
from registry.models import Injury, Procedure, RecordMove
from registry.selectors.operation_moves import chain_of
from registry.services import enrolment, moves, operation_moves
from registry.services.moved_rows import Along
from tests import builders
from tests.builders import NOW, TODAY


def along(procedure: Procedure, **changes: Any) -> Along:
    """Return what goes along by its day."""
    rows: dict[str, list[int]] = {}
    for one in choosable(procedure.injury, chain_of(procedure)):
        if one.goes:
            rows.setdefault(one.kind, []).append(one.key)
    return Along(**{"rows": rows, "offered": offered(procedure.injury), **changes})


def move(procedure: Procedure, to: Injury, **changes: Any) -> RecordMove:
    """Move an operation as the page does, with what goes along by its day."""
    given: dict[str, Any] = {
        "along": along(procedure),
        "reason": "typed on the wrong injury",
        "expected_version": procedure.version,
        "to_version": to.version,
        "by": builders.person("recorder"),
        "now": NOW,
        "today": TODAY,
    }
    return operation_moves.move_operation(procedure=procedure, to=to, **{**given, **changes})


def undo(one: RecordMove) -> None:
    """Undo a move as the page does."""
    again = RecordMove.objects.get(pk=one.pk)
    moves.undo(move=again, by=builders.person("recorder"), now=NOW, today=TODAY)


def later(on: Injury, kind: str, revises: Procedure | None, day: date, **values: Any) -> Procedure:
    """Record a later operation on an injury."""
    return enrolment.record_procedure(
        injury=on,
        values={"kind": kind, "performed_on": day, "revises": revises, **values},
        by=on.recorded_by,
        now=NOW,
        today=TODAY,
    )
