"""The parts of a construct: which article, how many, which batch, and what is told of them at once."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from types import MappingProxyType

from django.db import IntegrityError, transaction

from registry.errors import BadInput
from registry.models.constructs import Construct, Part
from registry.models.implants import ImplantModel, PartKind
from registry.models.people import Person
from registry.rules.labels import Label, LabelRefused, plain_identifier, reading
from registry.rules.udi import read_part
from registry.selectors import implant_models
from registry.selectors.part_warnings import PartToTell, told_of
from registry.services import construct_checks, records
from registry.services.implant_models import describe_draft

NO_REASONS: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True)
class PartGiven:
    """One part as it was typed or read: the article in generic words, and what stood on its label.

    A part whose device identifier is known needs neither kind nor words.
    """

    kind: str = ""
    description: str = ""
    catalogue_number: str = ""
    device_identifier: str = ""
    quantity: int = 1
    batch: str = ""
    serial: str = ""
    expires_on: date | None = None
    raw_identifier: str = ""
    batch_not_obtainable: bool = False
    made_on: date | None = None
    other_identifiers: dict[str, str] = field(default_factory=dict)
    kept_because: str = ""


@dataclass(frozen=True)
class LabelGiven:
    """A part as its label says it, and what a person adds.

    `text` has each symbol of the label in a line of its own. `reading` chooses where it can be read
    in several ways (0 is the plain one), and `sure` says that a person has compared what is
    doubtful with the label. `batch` is typed where the label's own cannot be read.
    """

    text: str
    reading: int = 0
    sure: bool = False
    kind: str = ""
    description: str = ""
    catalogue_number: str = ""
    quantity: int | None = None
    batch: str = ""
    batch_not_obtainable: bool = False
    kept_because: str = ""


def part_of(given: LabelGiven, today: date) -> PartGiven:
    """Return the part that a label is about.

    Raises BadInput when the label cannot be read, or is doubtful and nobody has said how it reads.
    """
    try:
        label = read_part(given.text, today=today)
        doubts = label.doubts if given.reading == 0 else ()
        label = reading(label, given.reading)
    except LabelRefused as fault:
        raise BadInput({"text": str(fault)}) from fault
    if doubts and not given.sure:
        raise BadInput({"sure": " ".join(doubts)})
    if given.batch and label.batch and given.batch != label.batch:
        raise BadInput(
            {"batch": f"The label says batch {label.batch}; leave this empty, or type it by hand."}
        )
    return _part(given, label)


def _part(given: LabelGiven, label: Label) -> PartGiven:
    return PartGiven(
        kind=given.kind,
        description=given.description,
        catalogue_number=given.catalogue_number or label.catalogue_number,
        device_identifier=label.device_identifier,
        quantity=given.quantity or label.quantity or 1,
        batch=label.batch or given.batch,
        serial=label.serial,
        expires_on=label.expires_on,
        made_on=label.made_on,
        raw_identifier=label.raw,
        other_identifiers=dict(label.others),
        batch_not_obtainable=given.batch_not_obtainable,
        kept_because=given.kept_because,
    )


def add_part(*, construct: Construct, given: PartGiven, by: Person, now: datetime) -> Part:
    """Save one part of a construct, as `add_parts` does."""
    return add_parts(construct=construct, given=[given], by=by, now=now)[0]


def add_parts(
    *,
    construct: Construct,
    given: Sequence[PartGiven],
    departure_reasons: Mapping[str, str] = NO_REASONS,
    by: Person,
    now: datetime,
) -> list[Part]:
    """Save parts of a construct, all or none, with what was told of each; apply the checks again.

    An article that is not listed yet joins the list, as a draft where it came with a device
    identifier. A warning never stops what has happened.
    Raises BadInput when a value cannot be taken; with several parts, it says of which.
    """
    with records.change(by=by):
        ready = []
        for place, one in enumerate(given):
            with _named(place, len(given)):
                ready.append(_ready(one, by, now))
        told = told_of(by, construct.procedure, [_to_tell(model, one) for model, one in ready])
        parts = []
        for place, ((model, one), about) in enumerate(zip(ready, told, strict=True)):
            row = Part(
                construct=construct,
                site=construct.site,
                implant_model=model,
                quantity=one.quantity,
                batch=one.batch,
                serial=one.serial,
                expires_on=one.expires_on,
                made_on=one.made_on,
                raw_identifier=one.raw_identifier,
                other_identifiers=one.other_identifiers,
                batch_not_obtainable=one.batch_not_obtainable,
                warnings=[
                    {"code": warning.code.value, "words": warning.words}
                    for warning in about.warnings
                ],
                kept_because=one.kept_because[:300],
            )
            with _named(place, len(given)):
                parts.append(records.create(row, by=by, now=now))
        construct_checks.note_departures(
            construct=construct, reasons=departure_reasons, by=by, now=now
        )
    return parts


@contextmanager
def _named(place: int, of: int) -> Iterator[None]:
    """Say of which of several parts a refusal is."""
    try:
        yield
    except BadInput as fault:
        if of == 1:
            raise
        told = "; ".join(f"{name}: {text}" if name else text for name, text in fault.faults.items())
        raise BadInput({f"part {place + 1}": told}) from fault


def _ready(given: PartGiven, by: Person, now: datetime) -> tuple[ImplantModel, PartGiven]:
    """Return a part's article and the part with its numbers as they are kept."""
    clean = replace(
        given,
        batch=given.batch.strip(),
        serial=given.serial.strip(),
        kept_because=given.kept_because.strip(),
        catalogue_number=given.catalogue_number.strip(),
        description=given.description.strip(),
        device_identifier=_identifier(given.device_identifier),
    )
    if clean.batch and clean.batch_not_obtainable:
        raise BadInput({"batch": "A batch is given and said to be not obtainable; keep one."})
    if clean.serial and clean.quantity > 1:
        told = f"Serial number {clean.serial} is of one piece; record each by itself."
        raise BadInput({"quantity": told})
    return _article(clean, by, now), clean


def _identifier(text: str) -> str:
    try:
        return plain_identifier(text)
    except LabelRefused as fault:
        raise BadInput({"device_identifier": str(fault)}) from fault


def _to_tell(model: ImplantModel, given: PartGiven) -> PartToTell:
    return PartToTell(
        model=model,
        catalogue_number=given.catalogue_number,
        batch=given.batch,
        serial=given.serial,
        expires_on=given.expires_on,
        batch_not_obtainable=given.batch_not_obtainable,
    )


def _article(given: PartGiven, by: Person, now: datetime) -> ImplantModel:
    """Return the listed article, by its device identifier or by all its words; list a new one."""
    if given.device_identifier:
        known = implant_models.by_identifier(given.device_identifier)
        if known is not None:
            return _described(known, given, by, now)
        return _listed(given, is_draft=True)
    words = _words(given)
    return ImplantModel.objects.filter(**words).first() or _listed(given, is_draft=False)


def _words(given: PartGiven) -> dict[str, str]:
    return {
        "kind": given.kind,
        "description": given.description,
        "device_identifier": given.device_identifier,
        "catalogue_number": given.catalogue_number,
    }


def _described(known: ImplantModel, given: PartGiven, by: Person, now: datetime) -> ImplantModel:
    """Fill a draft with what is said of it now; what somebody described already stays."""
    undescribed = known.is_draft and known.description == implant_models.NOT_DESCRIBED
    if not (undescribed and given.kind and given.description):
        return known
    return describe_draft(
        draft=known,
        kind=given.kind,
        description=given.description,
        catalogue_number=given.catalogue_number,
        by=by,
        now=now,
    )


def _listed(given: PartGiven, *, is_draft: bool) -> ImplantModel:
    words = _words(given)
    if is_draft:
        words["kind"] = given.kind or PartKind.OTHER
        words["description"] = given.description or implant_models.NOT_DESCRIBED
    article = ImplantModel(**words, is_draft=is_draft)
    try:
        records.check(article)
        with transaction.atomic():
            article.save()
    except (BadInput, IntegrityError):
        # Perhaps somebody else listed it in this moment.
        known = implant_models.by_identifier(given.device_identifier)
        if known is None:
            raise
        return known
    return article
