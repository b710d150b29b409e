"""The list of articles: adding, correcting, confirming drafts, and joining a second identifier."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from registry import notices
from registry.errors import BadInput, StaleVersion
from registry.models.constructs import Construct
from registry.models.implants import ImplantModel
from registry.models.people import Person
from registry.rules.labels import LabelRefused, plain_identifier
from registry.services import construct_checks, records
from registry.services.setup import save_versioned

AT_ONCE = 200
# What an article brings to the counts of the constructs that it is in.
BRINGS = ("kind", "plate_holes", "screw_diameter_mm")
TAKEN_OVER = (*BRINGS, "description")


def save_implant_model(
    *,
    row: ImplantModel,
    values: Mapping[str, Any],
    expected_version: int,
    by: Person,
    now: datetime,
) -> ImplantModel:
    """Add an article, or change one over the version that was seen; a draft is none afterwards.

    Where it brings something else to a construct now, the construct's checks are applied again; and
    its parts are held against the safety notices.
    Raises StaleVersion when somebody changed it first, BadInput when a value cannot be taken.
    """
    given = {**values, "device_identifier": _identifier(values["device_identifier"])}
    _identifier_free(row, given["device_identifier"])
    before = {name: getattr(row, name) for name in BRINGS} if row.pk else None
    with records.change(by=by):
        saved = save_versioned(
            row, {**given, "is_draft": False}, expected_version=expected_version, by=by
        )
        if before is not None and before != {name: getattr(saved, name) for name in BRINGS}:
            _check_again(saved, by, now)
        notices.article_saved.send(sender=ImplantModel, article=saved, by=by, now=now)
    return saved


def join_model(
    *, draft: ImplantModel, known: ImplantModel, expected_version: int, by: Person, now: datetime
) -> ImplantModel:
    """Say that a draft is another identifier of a listed article, whose words it takes over.

    The row stays with its identifier, so that what stood on the labels is still found by it.
    Raises BadInput when the two cannot be one, StaleVersion when somebody changed the draft first.
    """
    article = known.same_as or known
    if not draft.is_draft:
        raise BadInput(f"'{draft}' is listed already; correct it instead.")
    if article.pk == draft.pk or article.is_draft:
        raise BadInput(f"'{article}' is a draft itself; say first what it is.")
    values: dict[str, Any] = {name: getattr(article, name) for name in TAKEN_OVER}
    values["catalogue_number"] = draft.catalogue_number or article.catalogue_number
    with records.change(by=by):
        saved = save_versioned(
            draft,
            {**values, "same_as": article, "is_draft": False},
            expected_version=expected_version,
            by=by,
        )
        _check_again(saved, by, now)
        notices.article_saved.send(sender=ImplantModel, article=saved, by=by, now=now)
    return saved


def describe_draft(
    *,
    draft: ImplantModel,
    kind: str,
    description: str,
    catalogue_number: str,
    by: Person,
    now: datetime,
) -> ImplantModel:
    """Fill a draft with what somebody who scanned it says of it; it stays a draft to be confirmed.

    Where somebody else described it in this moment, theirs stays.
    """
    values = {
        "kind": kind,
        "description": description,
        "catalogue_number": draft.catalogue_number or catalogue_number,
    }
    with records.change(by=by):
        try:
            saved = save_versioned(draft, values, expected_version=draft.version, by=by)
        except StaleVersion:
            return ImplantModel.objects.get(pk=draft.pk)
        _check_again(saved, by, now)
        notices.article_saved.send(sender=ImplantModel, article=saved, by=by, now=now)
    return saved


def _check_again(model: ImplantModel, by: Person, now: datetime) -> None:
    built = Construct.objects.filter(parts__implant_model=model, parts__voided_at__isnull=True)
    rows = built.select_related("construct_type", "procedure").distinct().order_by("pk")
    for construct in rows.iterator(chunk_size=AT_ONCE):
        construct_checks.note_departures(construct=construct, reasons={}, by=by, now=now)


def _identifier(text: str) -> str:
    try:
        return plain_identifier(text)
    except LabelRefused as fault:
        raise BadInput({"device_identifier": str(fault)}) from fault


def _identifier_free(row: ImplantModel, identifier: str) -> None:
    if not identifier:
        return
    others = ImplantModel.objects.filter(device_identifier=identifier).exclude(pk=row.pk)
    other = others.first()
    if other is not None:
        raise BadInput(
            {
                "device_identifier": f"{identifier} is listed already, as '{other}'; correct that one."
            }
        )
