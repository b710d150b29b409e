"""The articles that are known: by identifier, in a list with how often each was used, and drafts."""

from collections.abc import Iterable

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from registry.models.constructs import Part
from registry.models.implants import ImplantModel
from registry.rules.labels import LabelRefused, plain_identifier
from registry.selectors.visible import Viewer, visible

# What stands for the words of an article of which nobody has said yet what it is.
NOT_DESCRIBED = "Not described yet"


def by_identifiers(identifiers: Iterable[str]) -> dict[str, ImplantModel]:
    """Return the article of each device identifier that is known: one that is no draft first."""
    rows = ImplantModel.objects.filter(device_identifier__in=set(identifiers) - {""})
    found: dict[str, ImplantModel] = {}
    for row in rows.order_by("is_draft", "-is_active", "pk"):
        found.setdefault(row.device_identifier, row)
    return found


def by_identifier(identifier: str) -> ImplantModel | None:
    """Return the article of a device identifier, None where it is not known yet."""
    return by_identifiers([identifier]).get(identifier)


def found_by(text: str, *, drafts_only: bool = False) -> "QuerySet[ImplantModel]":
    """Return the articles that a text may mean: an identifier, a catalogue number or words."""
    rows = ImplantModel.objects.select_related("same_as").order_by(
        "-is_draft", "kind", "description", "pk"
    )
    if drafts_only:
        rows = rows.filter(is_draft=True)
    for word in text.split():
        rows = rows.filter(
            Q(device_identifier__icontains=_identifier(word))
            | Q(catalogue_number__icontains=word)
            | Q(description__icontains=word)
        )
    return rows


def with_uses(user: Viewer, rows: "QuerySet[ImplantModel]") -> "QuerySet[ImplantModel]":
    """Add to each article how many pieces of it were recorded at a person's sites: `used`."""
    parts = (
        visible(user, Part, "set_up")
        .filter(implant_model=OuterRef("pk"))
        .order_by()
        .values("implant_model")
    )
    return rows.annotate(used=Coalesce(Subquery(parts.annotate(n=Count("pk")).values("n")), 0))


def count_of_drafts() -> int:
    """Return how many articles wait for somebody to say what they are."""
    return ImplantModel.objects.filter(is_draft=True).count()


def _identifier(word: str) -> str:
    try:
        return plain_identifier(word)
    except LabelRefused:
        return word
