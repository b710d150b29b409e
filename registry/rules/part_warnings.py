"""What is told at once about a part that is recorded: it warns, and never stops what has happened."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class Warned(StrEnum):
    """What a part is warned of."""

    EXPIRED = "expired"
    SERIAL_USED = "serial_used"
    RECALLED = "recalled"
    NO_BATCH = "no_batch"
    SWITCHED_OFF = "switched_off"


@dataclass(frozen=True)
class PartWarning:
    """One warning: what it is about, and in words that name nobody."""

    code: Warned
    words: str


@dataclass(frozen=True)
class PartSeen:
    """What the warnings need to know of a part; `recalls` are the notices about it in words.

    `serial_twice` is for one that comes more than once in what is saved together.
    """

    batch: str = ""
    serial: str = ""
    expires_on: date | None = None
    batch_not_obtainable: bool = False
    serial_used: bool = False
    serial_used_here: bool = False
    serial_twice: bool = False
    model_is_active: bool = True
    recalls: tuple[str, ...] = ()


def warnings(part: PartSeen, operated_on: date) -> tuple[PartWarning, ...]:
    """Return what is told of a part that was implanted on a day, the gravest first."""
    found = [PartWarning(Warned.RECALLED, words) for words in part.recalls]
    if part.serial_used:
        found.append(
            PartWarning(
                Warned.SERIAL_USED,
                f"Serial number {part.serial} of this article is recorded on another patient.",
            )
        )
    elif part.serial_used_here:
        found.append(
            PartWarning(
                Warned.SERIAL_USED,
                f"Serial number {part.serial} of this article is recorded on this patient already.",
            )
        )
    elif part.serial_twice:
        found.append(
            PartWarning(
                Warned.SERIAL_USED,
                f"Serial number {part.serial} of this article is given here more than once.",
            )
        )
    if part.expires_on is not None and part.expires_on < operated_on:
        days = (operated_on - part.expires_on).days
        late = "1 day" if days == 1 else f"{days} days"
        found.append(
            PartWarning(
                Warned.EXPIRED,
                f"Expired on {part.expires_on}, {late} before the operation on {operated_on}.",
            )
        )
    if not (part.batch or part.serial or part.batch_not_obtainable):
        found.append(
            PartWarning(
                Warned.NO_BATCH,
                "No batch and no serial number: scan the second symbol of the label, or say that "
                "the batch is not obtainable.",
            )
        )
    if not part.model_is_active:
        found.append(
            PartWarning(Warned.SWITCHED_OFF, "This article is switched off: it is not used here.")
        )
    return tuple(found)
