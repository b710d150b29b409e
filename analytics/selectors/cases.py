"""The cases behind a number, by key: no identity is read here."""

from collections.abc import Collection, Sequence
from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import QuerySet

from analytics.selectors.visible import visible
from registry.models.constructs import ConstructType
from registry.models.procedures import Procedure, ProcedureKind
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


def construct_names(codes: Collection[str]) -> dict[str, str]:
    """Return the names of construct types by their codes."""
    return dict(ConstructType.objects.filter(code__in=codes).values_list("code", "name"))


def patient_keys(user: Viewer, keys: Sequence[int]) -> dict[int, str]:
    """Return the patients' keys of the visible index procedures among some, by procedure."""
    rows = visible(user, Procedure, "see_cases").filter(pk__in=keys)
    return dict(rows.values_list("pk", "injury__patient__key"))
