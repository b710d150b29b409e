"""What is known of labels that were scanned and are not saved yet: the article, and what is told."""

from collections.abc import Sequence
from dataclasses import dataclass

from registry.models.implants import ImplantModel
from registry.models.patients import Patient
from registry.models.procedures import Procedure
from registry.rules.labels import Label
from registry.rules.part_warnings import PartWarning
from registry.selectors import implant_models
from registry.selectors.part_warnings import PartToTell, told_of
from registry.selectors.visible import Viewer


@dataclass(frozen=True)
class Chosen:
    """A label as it is read now, with what a person added that the warnings turn on."""

    label: Label
    batch: str = ""
    batch_not_obtainable: bool = False


@dataclass(frozen=True)
class Seen:
    """A label with its article, None where it is not known, and what is told of it."""

    label: Label
    model: ImplantModel | None
    warnings: tuple[PartWarning, ...]
    other: Patient | None

    @property
    def needs_words(self) -> bool:
        """Whether nobody has said yet what the article is."""
        return self.model is None or self.model.description == implant_models.NOT_DESCRIBED


def seen(user: Viewer, procedure: Procedure, chosen: Sequence[Chosen]) -> list[Seen]:
    """Return what is known of each label, with as many queries for one as for forty."""
    models = implant_models.by_identifiers(one.label.device_identifier for one in chosen)
    parts = [
        PartToTell(
            model=models.get(one.label.device_identifier),
            device_identifier=one.label.device_identifier,
            catalogue_number=one.label.catalogue_number,
            batch=one.label.batch or one.batch,
            serial=one.label.serial,
            expires_on=one.label.expires_on,
            batch_not_obtainable=one.batch_not_obtainable,
        )
        for one in chosen
    ]
    told = told_of(user, procedure, parts) if parts else []
    return [
        Seen(one.label, part.model, about.warnings, about.other)
        for one, part, about in zip(chosen, parts, told, strict=True)
    ]
