"""Recognising hardware that makes trouble: on films and in complications."""

from datetime import datetime

from followup.models.complications import Complication
from followup.models.films import Reading
from followup.models.hardware import SymptomSource
from followup.rules import prompts
from followup.services import hardware
from registry.models.people import Person


def heed_reading(*, reading: Reading, by: Person, now: datetime) -> None:
    """Raise the question of removal for hardware that a film shows loose, broken or migrated.

    The same finding on a later film is no new one. Nothing happens where the hardware is out.
    """
    if reading.hardware not in prompts.SYMPTOMATIC_ON_FILM:
        return
    film = reading.film
    procedure = hardware.carrying(film.injury_id, film.taken_on)
    if procedure is None:
        return
    found = reading.get_hardware_display().lower()
    hardware.note_symptoms(
        procedure=procedure,
        source=SymptomSource.FILM,
        words=f"hardware {found} on the film of {film.taken_on:%d %b %Y}",
        fact=f"{SymptomSource.FILM}:{reading.hardware}",
        by=by,
        now=now,
        on=film.taken_on,
    )


def heed_complication(*, complication: Complication, by: Person, now: datetime) -> None:
    """Raise the question of removal for a complication of the hardware that has not ended."""
    if complication.kind not in prompts.SYMPTOMATIC_COMPLICATIONS or complication.resolved_on:
        return
    on = complication.detected_on
    hardware.note_symptoms(
        procedure=complication.procedure,
        source=SymptomSource.COMPLICATION,
        words=f"{complication.get_kind_display().lower()}, found on {on:%d %b %Y}",
        fact=f"{SymptomSource.COMPLICATION}:{complication.pk}:{complication.kind}",
        by=by,
        now=now,
        on=on,
    )
