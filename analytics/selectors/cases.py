"""The cases behind a number, by key: no identity is read here."""

from collections.abc import Collection, Sequence
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import Min, QuerySet

from analytics.models.monitoring import ChartCase
from analytics.models.packs import Pack
from analytics.models.snapshots import Snapshot
from analytics.selectors.visible import visible
from registry.models.constructs import ConstructType
from registry.models.injuries import Injury
from registry.models.patients import PatientStatus
from registry.models.procedures import Procedure, ProcedureKind
from registry.selectors import choices
from registry.selectors.visible import Viewer

PER_PAGE = 50


def page_of(user: Viewer, keys: Sequence[int], number: str | None) -> "Page[Any]":
    """Return one page of the visible index procedures among some keys, the last recorded first.

    A key without a visible row (voided since the snapshot) leaves a gap on its page.
    """
    page = Paginator(sorted(keys, reverse=True), PER_PAGE).get_page(number)
    # Only the keys of the page go to the database, however many stand behind the number.
    page.object_list = (
        visible(user, Procedure, "see_cases")
        .filter(pk__in=list(page.object_list))
        .select_related("injury__patient", "construct__construct_type", "site")
        .order_by("-id")
    )
    return page


def index_procedures(user: Viewer, action: str = "see_cases") -> "QuerySet[Any]":
    """Return the index procedures that a person may see for an action, with what names a case."""
    rows: QuerySet[Any] = visible(user, Procedure, action)
    return rows.filter(kind=ProcedureKind.FIXATION).select_related(
        "injury__patient", "construct__construct_type", "site", "surgeon"
    )


def index_of(injury_id: int) -> Any:
    """Return the index procedure of an injury as it stands, None where it was voided or not recorded.

    For the service itself, which looks at every site.
    """
    rows = Procedure.objects.filter(injury_id=injury_id, kind=ProcedureKind.FIXATION)
    return rows.select_related("site", "surgeon", "injury__patient").first()


def injuries_of(patient_id: int) -> list[int]:
    """Return the injuries of a patient, by number."""
    return list(Injury.objects.filter(patient_id=patient_id).values_list("pk", flat=True))


def is_left_alone(procedure: Any) -> bool:
    """Say whether nobody is to be told of a case: its patient opted out and is followed up no more.

    While follow-up goes on because it is clinically needed, a warning to who treats is care.
    """
    patient = procedure.injury.patient
    followed = patient.status == PatientStatus.ACTIVE
    return not followed and patient.pk in {
        key
        for key, (decision, _) in choices.of_patients([patient.pk]).items()
        if decision in choices.ENDED
    }


def withdrawn() -> "QuerySet[Any]":
    """Return the operations, by number, whose patients let nothing of them count any more."""
    gone = choices.withdrawn()
    return Procedure.everything.filter(injury__patient__in=gone).order_by().values("pk")


def held_in_figures(patients: Sequence[Any]) -> list[str]:
    """Say in which running charts a person's operations stand, and which copies of figures may hold them."""
    mine = Procedure.everything.filter(injury__patient__in=patients)
    in_charts = ChartCase.objects.filter(case_id__in=mine.values("pk")).select_related(
        "design__site"
    )
    lines = [f"case {one.position + 1} of the running chart '{one.design}'" for one in in_charts]
    since = mine.aggregate(first=Min("recorded_at"))["first"]
    if since is None:
        return lines
    kept = Snapshot.objects.filter(taken_at__gte=since).count()
    packs = Pack.objects.filter(asked_at__gte=since).count()
    return [
        *lines,
        (
            f"{kept} frozen copies of the figures' tables and {packs} packs of figures were made since the "
            "first operation was recorded; the tables hold cases by the key alone, packs counts alone"
        ),
    ]


def construct_names(codes: Collection[str]) -> dict[str, str]:
    """Return the names of construct types by their codes."""
    return dict(ConstructType.objects.filter(code__in=codes).values_list("code", "name"))


def patient_keys(user: Viewer, keys: Sequence[int]) -> dict[int, str]:
    """Return the patients' keys of the visible index procedures among some, by procedure."""
    rows = visible(user, Procedure, "see_cases").filter(pk__in=keys)
    return dict(rows.values_list("pk", "injury__patient__key"))
