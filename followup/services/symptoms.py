"""Recognising hardware that makes trouble: on films and in complications."""

from datetime import datetime

from followup.models.complications import Complication
from followup.models.films import Reading
from followup.models.hardware import SymptomSource
from followup.rules import prompts
from followup.services import findings, hardware
from registry.models.people import Person


def heed_reading(*, reading: Reading, by: Person, now: datetime) -> None:
    """Raise the question of removal for hardware that a film shows in trouble.

    Each finding of hardware is a fact of its own; a reading without any is heard by its summary:
    loose, broken or migrated. The same on a later film is no new one. Nothing happens where the
    hardware is out.
    """
    told = {
        f"{SymptomSource.FILM}:{one.kind}": one.words
        for one in findings.found_of(reading)
        if one.is_there and one.is_of_hardware
    }
    if not told and reading.hardware in prompts.SYMPTOMATIC_ON_FILM:
        words = f"hardware {reading.get_hardware_display().lower()}"
        told = {f"{SymptomSource.FILM}:{reading.hardware}": words}
    film = reading.film
    procedure = hardware.carrying(film.injury_id, film.taken_on) if told else None
    if procedure is None:
        return
    for fact, words in told.items():
        hardware.note_symptoms(
            procedure=procedure,
            source=SymptomSource.FILM,
            words=f"{words} on the film of {film.taken_on:%d %b %Y}",
            fact=fact,
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
