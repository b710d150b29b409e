"""What is told at once of parts that are being recorded: asked of the whole registry, naming nobody."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from registry.models.constructs import Part
from registry.models.implants import ImplantModel
from registry.models.patients import Patient
from registry.models.procedures import Procedure
from registry.models.safety_notices import NoticeKind, SafetyNotice
from registry.rules import batches
from registry.rules.notice_matching import Certainty, Match, PartFacts, Scope
from registry.rules.part_warnings import PartSeen, PartWarning, warnings
from registry.selectors.safety_notices import in_force, match_of, others_of, scopes_of
from registry.selectors.visible import Viewer, visible


@dataclass(frozen=True)
class PartToTell:
    """A part that is not saved yet, with its article where that is known."""

    model: ImplantModel | None
    device_identifier: str = ""
    catalogue_number: str = ""
    batch: str = ""
    serial: str = ""
    expires_on: date | None = None
    batch_not_obtainable: bool = False


@dataclass(frozen=True)
class Told:
    """The warnings of one part; `other` is the patient who has its serial number, if theirs to see."""

    warnings: tuple[PartWarning, ...]
    other: Patient | None = None


def told_of(user: Viewer, procedure: Procedure, parts: Sequence[PartToTell]) -> list[Told]:
    """Return the warnings of each part, with as many queries for one as for forty."""
    used = _serials(parts)
    others = {row.construct.procedure.injury.patient_id for rows in used.values() for row in rows}
    mine = procedure.injury.patient_id
    seen = {
        patient.pk: patient
        for patient in (visible(user, Patient).filter(pk__in=others - {mine}) if used else ())
    }
    notices = [(notice, scopes_of(notice)) for notice in in_force()]
    articles = [part.model for part in parts if part.model is not None]
    listed = others_of(articles) if notices else {}
    together = Counter(_key(part) for part in parts)
    found = []
    for part in parts:
        rows = used.get(_key(part), [])
        elsewhere = [
            row.construct.procedure.injury.patient_id
            for row in rows
            if row.construct.procedure.injury.patient_id != mine
        ]
        facts = PartSeen(
            batch=part.batch,
            serial=part.serial,
            expires_on=part.expires_on,
            batch_not_obtainable=part.batch_not_obtainable,
            serial_used=bool(elsewhere),
            serial_used_here=len(elsewhere) < len(rows),
            serial_twice=all(_key(part)) and together[_key(part)] > 1,
            model_is_active=part.model is None or part.model.is_active,
            recalls=_recalls(part, notices, listed),
        )
        other = next((seen[one] for one in elsewhere if one in seen), None)
        found.append(Told(warnings(facts, procedure.performed_on), other))
    return found


def _recalls(
    part: PartToTell,
    notices: Sequence[tuple[SafetyNotice, Sequence[Scope]]],
    listed: Mapping[int, tuple[str, ...]],
) -> tuple[str, ...]:
    """Return in words which notices in force are, or may be, about a part."""
    model = part.model
    facts = PartFacts(
        model.device_identifier if model is not None else part.device_identifier,
        (model.catalogue_number if model is not None else "") or part.catalogue_number,
        part.batch,
        part.serial,
        part.expires_on,
        listed.get(model.pk, ()) if model is not None else (),
    )
    told = [(notice, match_of(scopes, facts)) for notice, scopes in notices]
    return tuple(_named_by(notice, said) for notice, said in told if said is not None)


def _named_by(notice: SafetyNotice, said: Match) -> str:
    surely = said.certainty is Certainty.CERTAIN
    if notice.kind == NoticeKind.RECALL:
        told = "Recalled" if surely else "May be recalled"
    else:
        told = "A notice is about it" if surely else "A notice may be about it"
    return f"{told}: safety notice {notice} ({said.words})."


def _key(part: PartToTell) -> tuple[str, str]:
    article = _article(part.model) if part.model is not None else part.device_identifier
    return (article, batches.folded(part.serial))


def _article(model: ImplantModel) -> str:
    """Return what makes two articles one: the identifier, or the row where it has none."""
    return model.device_identifier or f"row {model.pk}"


def _serials(parts: Sequence[PartToTell]) -> dict[tuple[str, str], list[Part]]:
    """Return the live parts of any site that have the article and serial number of one of these."""
    wanted = [
        Q(
            implant_model__device_identifier=part.model.device_identifier,
            serial_folded=batches.folded(part.serial),
        )
        if part.model.device_identifier
        else Q(implant_model=part.model, serial_folded=batches.folded(part.serial))
        for part in parts
        if part.model is not None and part.serial
    ]
    if not wanted:
        return {}
    either = wanted[0]
    for one in wanted[1:]:
        either |= one
    rows = Part.objects.filter(either, construct__voided_at__isnull=True)
    found: dict[tuple[str, str], list[Part]] = {}
    for row in rows.select_related("implant_model", "construct__procedure__injury"):
        found.setdefault((_article(row.implant_model), row.serial_folded), []).append(row)
    return found
