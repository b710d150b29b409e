"""The parts of a construct: which article, how many, which batch."""

from dataclasses import dataclass
from datetime import date, datetime

from registry.errors import BadInput
from registry.models.constructs import Construct, Part
from registry.models.implants import ImplantModel
from registry.models.people import Person
from registry.services import records


@dataclass(frozen=True)
class PartGiven:
    """One part as it was typed: the article in generic words, and what stood on its label."""

    kind: str
    description: str
    catalogue_number: str = ""
    device_identifier: str = ""
    quantity: int = 1
    batch: str = ""
    serial: str = ""
    expires_on: date | None = None
    raw_identifier: str = ""
    batch_not_obtainable: bool = False


def add_part(*, construct: Construct, given: PartGiven, by: Person, now: datetime) -> Part:
    """Save a part of a construct; an article that is not listed yet is added to the list.

    Raises BadInput when a batch is given and also said to be not obtainable.
    """
    if given.batch and given.batch_not_obtainable:
        raise BadInput({"batch": "A batch is given and said to be not obtainable; keep one."})
    with records.change(by=by):
        return records.create(
            Part(
                construct=construct,
                site=construct.site,
                implant_model=_article(given),
                quantity=given.quantity,
                batch=given.batch.strip(),
                serial=given.serial.strip(),
                expires_on=given.expires_on,
                raw_identifier=given.raw_identifier.strip(),
                batch_not_obtainable=given.batch_not_obtainable,
            ),
            by=by,
            now=now,
        )


def _article(given: PartGiven) -> ImplantModel:
    words = {
        "kind": given.kind,
        "description": given.description.strip(),
        "device_identifier": given.device_identifier.strip(),
        "catalogue_number": given.catalogue_number.strip(),
    }
    known = ImplantModel.objects.filter(**words).first()
    if known is not None:
        return known
    article = ImplantModel(**words)
    records.check(article)
    article.save()
    return article
