"""What a patient carries, or carried: every part at the sites of whoever asks, the latest first."""

from dataclasses import dataclass
from datetime import date

from registry.models.constructs import Part
from registry.models.patients import Patient
from registry.selectors.trace import PLACES, removals_of, with_places
from registry.selectors.visible import Viewer, visible


@dataclass(frozen=True)
class Carried:
    """One part with where it is by what is recorded, and the day of its removal if there is one."""

    part: Part
    place: str
    removed_on: date | None


def carried_by(user: Viewer, patient: Patient) -> list[Carried]:
    """Return the parts of a patient at a person's sites."""
    rows = visible(user, Part, "see_patient").filter(construct__procedure__injury__patient=patient)
    parts = list(
        with_places(rows)
        .select_related("site", "implant_model", "construct__procedure__injury")
        .order_by("-construct__procedure__performed_on", "pk")
    )
    removals = removals_of(parts)
    found = []
    for part in parts:
        removal = removals.get(part.construct.procedure_id)
        removed_on = removal.performed_on if removal is not None else None
        # To the person who carries it, what the registry says of their life is no news.
        place = "removed" if removed_on else "in_place" if part.place != "unknown" else "unknown"
        found.append(Carried(part, PLACES[place], removed_on))
    return found
