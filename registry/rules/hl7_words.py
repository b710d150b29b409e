"""What a message of the hospital's system says, in words that a coordinator reads."""

from dataclasses import dataclass

from registry.rules import dates
from registry.rules.hl7_said import Number, PersonSaid, Said

LABELS = {
    "family_name": "Family name",
    "given_name": "Given name",
    "sex": "Sex",
    "phone": "Telephone",
    "email": "E-mail",
    "address": "Address",
}
ACTS = {"booked": "is booked", "cancelled": "is cancelled", "missed": "was missed"}
EVENTS = {
    "A01": "Admitted",
    "A03": "Discharged",
    "A04": "Registered",
    "A08": "Details changed",
    "A28": "Person added",
    "A30": "Two numbers merged",
    "A31": "Details changed",
    "A34": "Two numbers merged",
    "A40": "Two numbers merged",
    "S12": "Slot booked",
    "S13": "Slot moved",
    "S14": "Slot changed",
    "S15": "Slot cancelled",
    "S17": "Slot deleted",
    "S26": "Did not come",
}


@dataclass(frozen=True)
class Line:
    """One thing that is said: of what, and what."""

    label: str
    value: str


def event_words(event: str) -> str:
    """Return what an event is about; of one that is not known its name."""
    return EVENTS.get(event, event or "Not readable")


def in_words(said: Said) -> list[Line]:
    """Return what a message says, line by line."""
    lines = [Line("What happened", event_words(said.event))]
    for pair in (said, *said.more):
        if pair.lost:
            lines.append(Line("Number that is absorbed", _numbers(pair.lost)))
            lines.append(Line("Number that survives", _numbers(pair.person.numbers)))
        else:
            lines.append(Line("Number", _numbers(pair.person.numbers)))
        lines += _person(pair.person)
    if said.slot is not None:
        slot = said.slot
        when = f" on {slot.starts:%d %b %Y} at {slot.starts:%H:%M}" if slot.starts else ""
        lines.append(Line("Slot", f"{slot.filler or slot.placer}{when} {ACTS[slot.act]}"))
        lines.append(Line("Place", ", ".join(slot.places) or "none named"))
    return lines


def _person(said: PersonSaid) -> list[Line]:
    lines = [
        Line(LABELS[name], value or "to be emptied") for name, value in sorted(said.values.items())
    ]
    if said.born is not None:
        lines.append(Line("Born", dates.written(said.born)))
    if said.died:
        day = f"on {said.died_on:%d %b %Y}" if said.died_on else "on a day that is not said"
        lines.append(Line("Died", day))
    return lines


def _numbers(numbers: tuple[Number, ...]) -> str:
    return "; ".join(f"{one.value} ({one.authority or 'no authority'})" for one in numbers)
