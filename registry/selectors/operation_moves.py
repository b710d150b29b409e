"""Which operations hang together, and to which injuries one of them could go."""

from collections.abc import Sequence

from django.db.models import QuerySet

from registry.models.injuries import Injury
from registry.models.patients import Patient
from registry.models.procedures import Procedure
from registry.selectors.visible import Viewer, visible


def chain_of(procedure: Procedure) -> list[Procedure]:
    """Return an operation with those that revise it, and those that revise these, in order of time.

    What is void is one of them too.
    """
    rows = Procedure.everything.filter(injury_id=procedure.injury_id)
    by_revised: dict[int | None, list[int]] = {}
    for pk, revised in rows.values_list("pk", "revises_id"):
        by_revised.setdefault(revised, []).append(pk)
    found, ahead = {procedure.pk}, [procedure.pk]
    while ahead:
        below = [one for one in by_revised.get(ahead.pop(), []) if one not in found]
        found.update(below)
        ahead += below
    chain = rows.filter(pk__in=found).select_related("injury__patient", "revises", "site")
    return list(chain.order_by("performed_on", "id"))


def injuries_to_move_to(user: Viewer, procedure: Procedure, patient: Patient) -> "QuerySet[Injury]":
    """Return a patient's injuries to which an operation could go: others, followed at its site."""
    rows = visible(user, Injury, "correct").filter(patient=patient, site_id=procedure.site_id)
    others: QuerySet[Injury] = rows.exclude(pk=procedure.injury_id).select_related("site")
    return others


def staying(chain: Sequence[Procedure]) -> "QuerySet[Procedure]":
    """Return the operations of an injury that stay when a chain of them goes."""
    rows: QuerySet[Procedure] = Procedure.objects.filter(injury_id=chain[0].injury_id)
    return rows.exclude(pk__in=[one.pk for one in chain])
