"""The operations of an injury, in order, and what a further one may be."""

from registry.models.injuries import Injury
from registry.models.procedures import Procedure, ProcedureKind


def operations_of(injury: Injury) -> list[Procedure]:
    """Return an injury's operations with their constructs, the first one first."""
    return list(
        Procedure.objects.filter(injury=injury)
        .select_related("construct__construct_type", "surgeon")
        .order_by("performed_on", "id")
    )


def kinds_possible(operations: list[Procedure]) -> list[ProcedureKind]:
    """Return the kinds that a further operation may be, after those that an injury has had.

    The first fixation happens once; revising and removing need something to revise or remove.
    """
    fixed = any(one.kind == ProcedureKind.FIXATION for one in operations)
    later = {ProcedureKind.REVISION_FIXATION, ProcedureKind.IMPLANT_REMOVAL}
    return [
        kind
        for kind in ProcedureKind
        if not (kind == ProcedureKind.FIXATION and fixed) and not (kind in later and not operations)
    ]
