"""What a hospital's system says in an HL7 v2 message: about a person, a merge of two, or a slot.

Source: HL7 v2.5.1, chapter 3 (ADT; PID 3.4.2, MRG 3.4.9) and chapter 10 (SIU; SCH 10.6.2).
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

from registry.rules import dates
from registry.rules.hl7_text import EMPTIED, Field, Segment, Segments, Unusable, part

PERSON_EVENTS = frozenset({"A01", "A03", "A04", "A08", "A28", "A31"})
MERGE_EVENTS = frozenset({"A30", "A34", "A40"})
BOOKED, CANCELLED, MISSED = "booked", "cancelled", "missed"
BOOKING_EVENTS = {
    "S12": BOOKED,
    "S13": BOOKED,
    "S14": BOOKED,
    "S15": CANCELLED,
    "S17": CANCELLED,
    "S26": MISSED,
}
# SCH-25 speaks for itself where it is given: table 0278, and how senders write it.
STATUSES = {
    "cancelled": CANCELLED,
    "canceled": CANCELLED,
    "deleted": CANCELLED,
    "noshow": MISSED,
    "no-show": MISSED,
}
SEXES = {"F": "female", "M": "male", "O": "other", "A": "other", "N": "other"}
# Of several, the first of these types counts: legal and displayed names (table 0200), home, permanent
# and legal addresses (table 0190), then one without a type.
NAME_TYPES = (*"LD", "")
ADDRESS_TYPES = (*"HPL", "")
MOMENT = re.compile(r"(\d{4})(\d\d)?(\d\d)?(\d\d)?(\d\d)?(\d\d)?(?:\.(\d{1,6}))?([+-]\d{4})?")
LONGEST_ID = 120
# Digits that a text needs to say a day, and to say a time of it.
DAY_DIGITS, TIME_DIGITS = 8, 10
# Types of numbers that are a patient's own (table 0203, from memory): of the record, of the person, of
# a region or a country. Accounts, visits, insurances, passports and the like are not: they change hands
# or are many.
PATIENT_TYPES = frozenset({"", "MR", "MRN", "MRT", "PI", "PT", "PE", "PN", "U", "LR", "RRI"}) | {
    *("NH", "NI", "NHS", "HC", "JHN")
}
# National numbers name their country behind these letters.
NATIONAL_TYPE = re.compile(r"NN[A-Z]{2,3}")


@dataclass(frozen=True)
class Number:
    """A patient's number and the authority that assigned it."""

    authority: str
    value: str


@dataclass(frozen=True)
class PersonSaid:
    """Whom a PID segment is about, and what it says of them.

    `values` has only what is said: '' where the sender emptied it. `born` are bounds, None where
    nothing usable is said. `died` is None where nothing is said.
    """

    numbers: tuple[Number, ...]
    values: Mapping[str, str]
    born: dates.Bounds | None = None
    died: bool | None = None
    died_on: date | None = None


@dataclass(frozen=True)
class SlotSaid:
    """A slot: what is to be (booked, cancelled, missed), its names, its begin by the site's clock."""

    act: str
    filler: str
    placer: str
    starts: datetime | None
    places: tuple[str, ...]


@dataclass(frozen=True)
class Said:
    """One message: its kind, its place in time, and whom and what it is about.

    `clock` orders messages whatever order they come in: the moment, then the name of the message.
    """

    event: str
    control_id: str
    facility: str
    moment: datetime
    clock: str
    person: PersonSaid
    lost: tuple[Number, ...] = ()
    slot: SlotSaid | None = None
    more: tuple["Said", ...] = field(default=())

    @property
    def kind(self) -> str:
        """Return 'person', 'merge' or 'slot'."""
        if self.slot is not None:
            return "slot"
        return "merge" if self.lost else "person"


def read(message: Segments, zone: ZoneInfo) -> Said:
    """Return what a message says; moments without an offset are by the clock of `zone`.

    Raises Unusable with the answer AR for another type, version or purpose, and AE for what lacks
    something that is needed.
    """
    head = message.first("MSH")
    event = _event(head)
    control_id = head.text(10)[:LONGEST_ID]
    if not control_id:
        raise Unusable("MSH-10 is empty: the message has no name by which it could be answered.")
    moment = _moment_of(message, head, zone)
    common = (event, control_id, head.text(4), moment, clock_of(moment, control_id))
    if event in BOOKING_EVENTS:
        return Said(*common, person=_person(message, zone), slot=_slot(message, event, zone))
    if event in MERGE_EVENTS:
        return _merges(message, common, zone)
    return Said(*common, person=_person(message, zone))


def clock_of(moment: datetime, control_id: str) -> str:
    """Return a text by which messages are ordered: by moment, then by name, the shorter first."""
    written = moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%f")
    return f"{written}/{len(control_id):03d}/{control_id}"


def parse_moment(text: str, zone: ZoneInfo) -> datetime | None:
    """Return a moment of the form YYYY[MM[DD[HH[MM[SS[.S]]]]]][+ZZZZ]; None for what is none."""
    found = MOMENT.fullmatch(text)
    if found is None:
        return None
    year, month, day, hour, minute, second, fraction, offset = found.groups()
    try:
        naive = datetime(
            int(year),
            int(month or 1),
            int(day or 1),
            int(hour or 0),
            int(minute or 0),
            int(second or 0),
            int((fraction or "0").ljust(6, "0")),
            tzinfo=zone,
        )
    except ValueError:
        return None
    return naive if offset is None else _with_offset(naive, offset)


def _with_offset(moment: datetime, offset: str) -> datetime | None:
    away = timedelta(hours=int(offset[1:3]), minutes=int(offset[3:]))
    if away >= timedelta(hours=24):
        return None
    return moment.replace(tzinfo=timezone(-away if offset[0] == "-" else away))


def _event(head: Segment) -> str:
    kind, event, version = head.text(9), head.text(9, 2), head.text(12)
    # Some senders write the structure of another event, as ADT_A40 for ADT_A39: any of the type will do.
    structure = head.text(9, 3)
    known = {"ADT": PERSON_EVENTS | MERGE_EVENTS, "SIU": frozenset(BOOKING_EVENTS)}
    if event not in known.get(kind, frozenset()) or not (structure or kind).startswith(kind):
        raise Unusable(f"Messages of the type {kind[:10]}^{event[:10]} are not taken.", "AR")
    if not re.fullmatch(r"2\.\d(\.\d)?", version):
        raise Unusable(f"Version '{version[:10]}' is not taken: only 2.1 to 2.9 are.", "AR")
    purpose = head.text(11)
    if purpose != "P":
        raise Unusable(
            f"MSH-11 says '{purpose[:5]}': only messages of production (P) are taken.", "AR"
        )
    return event


def _moment_of(message: Segments, head: Segment, zone: ZoneInfo) -> datetime:
    """Return when what is said was recorded (EVN-2), else when the message was made (MSH-7)."""
    for text in (message.first("EVN").text(2), head.text(7)):
        moment = parse_moment(text, zone)
        if moment is not None:
            return moment
    raise Unusable("Neither EVN-2 nor MSH-7 is a moment: the message has no place in time.")


def _merges(message: Segments, common: tuple[str, str, str, datetime, str], zone: ZoneInfo) -> Said:
    """Read one pair of PID and MRG after the other; the PID's patient survives, the MRG's is absorbed."""
    persons, losers = message.all("PID"), message.all("MRG")
    if not losers or len(persons) != len(losers):
        raise Unusable("Each patient who survives (PID) needs the number that is absorbed (MRG).")
    pairs = []
    for kept, lost in zip(persons, losers, strict=True):
        numbers = _numbers(lost.field(1)) or _numbers(lost.field(4))
        if not numbers:
            raise Unusable("MRG-1 names no number that is absorbed.")
        pairs.append(Said(*common, person=_person_of(kept, zone), lost=numbers))
    first, *others = pairs
    return Said(*common, person=first.person, lost=first.lost, more=tuple(others))


def _person(message: Segments, zone: ZoneInfo) -> PersonSaid:
    if not message.has("PID"):
        raise Unusable("The message names no patient: it has no PID segment.")
    return _person_of(message.first("PID"), zone)


def _person_of(pid: Segment, zone: ZoneInfo) -> PersonSaid:
    numbers = _numbers(pid.field(3))
    if not numbers:
        raise Unusable(
            "PID-3 holds no number of the patient, or none of a type that is one (MR, PI, PT)."
        )
    return PersonSaid(
        numbers=numbers,
        values=_values(pid),
        born=_born(pid.text(7)),
        died={"Y": True, "N": False}.get(pid.text(30)),
        died_on=_day_of(pid.text(29), zone),
    )


def _numbers(identifiers: Field) -> tuple[Number, ...]:
    found = []
    for one in identifiers:
        value = part((one,), 1)
        if value and value != EMPTIED and _is_patients(part((one,), 5)):
            authority = part((one,), 4) or part((one,), 4, 2)
            found.append(Number(authority[:LONGEST_ID], value[:60]))
    return tuple(dict.fromkeys(found))


def _is_patients(kind: str) -> bool:
    kind = kind.strip().upper()
    return kind in PATIENT_TYPES or NATIONAL_TYPE.fullmatch(kind) is not None


def _day_of(text: str, zone: ZoneInfo) -> date | None:
    """Return the day that a text says by the clock of `zone`; None where it says a month or a year."""
    moment, digits = parse_moment(text, zone), _digits_of(text)
    if moment is None or digits < DAY_DIGITS:
        return None
    return moment.date() if digits == DAY_DIGITS else moment.astimezone(zone).date()


def _digits_of(text: str) -> int:
    """Return with how many digits a text says a moment, before a fraction or an offset."""
    return len(re.split(r"[.+-]", text, maxsplit=1)[0])


def _values(pid: Segment) -> dict[str, str]:
    """Return what is said of names, sex and contacts; a field that is left out says nothing."""
    names = _preferred(pid.field(5), 7, NAME_TYPES)
    said = {"family_name": part(names, 1), "given_name": part(names, 2)}
    said["sex"] = SEXES.get(pid.text(8), "")
    home = _preferred(pid.field(11), 7, ADDRESS_TYPES)
    if part(home, 1) == EMPTIED:
        said["address"] = EMPTIED
    else:
        lines = [part(home, number) for number in (1, 2, 3, 4, 5, 6)]
        said["address"] = ", ".join(line for line in lines if line not in ("", EMPTIED))
    telecoms = (*pid.field(13), *pid.field(40))
    said["phone"], said["email"] = _phone(telecoms), _email(telecoms)
    can_be_empty = ("phone", "email", "address")
    return {
        name: "" if value == EMPTIED else value
        for name, value in said.items()
        if value and (value != EMPTIED or name in can_be_empty)
    }


def _preferred(repetitions: Field, of_type: int, wanted: tuple[str, ...]) -> Field:
    for one in wanted:
        for repetition in repetitions:
            if part((repetition,), of_type) == one:
                return (repetition,)
    return repetitions[:1]


def _is_mail(one: tuple[tuple[str, ...], ...]) -> bool:
    use, equipment = part((one,), 2), part((one,), 3)
    return use == "NET" or equipment.casefold() == "internet" or "@" in part((one,), 1)


def _phone(telecoms: Field) -> str:
    for one in telecoms:
        if not _is_mail(one) and part((one,), 3) not in ("FX", "BP", "MD"):
            pieces = [part((one,), number) for number in (5, 6, 7)]
            number = part((one,), 1) or part((one,), 12) or " ".join(filter(None, pieces))
            if number:
                return number
    return ""


def _email(telecoms: Field) -> str:
    for one in telecoms:
        address = part((one,), 4) or part((one,), 1)
        if _is_mail(one) and ("@" in address or address == EMPTIED):
            return address
    return ""


def _born(text: str) -> dates.Bounds | None:
    digits = text[:8]
    if not re.fullmatch(r"\d{4}(\d\d)?(\d\d)?", digits):
        return None
    pieces = (digits[:4], digits[4:6], digits[6:8])
    try:
        return dates.parse("-".join(piece for piece in pieces if piece))
    except ValueError:
        return None


def _slot(message: Segments, event: str, zone: ZoneInfo) -> SlotSaid:
    schedule = message.first("SCH")
    placer, filler = _entity(schedule.field(1)), _entity(schedule.field(2))
    if not placer and not filler:
        raise Unusable("Neither SCH-1 nor SCH-2 names the slot.")
    begins = [message.first("TQ1").text(7), schedule.text(11, 4)]
    begins += [message.first(name).text(at) for name, at in (("AIS", 4), ("AIG", 8), ("AIL", 6))]
    timed = [text for text in begins if _digits_of(text) >= TIME_DIGITS]
    starts = next((one for text in timed if (one := parse_moment(text, zone))), None)
    act = STATUSES.get(schedule.text(25).casefold().replace(" ", ""), BOOKING_EVENTS[event])
    if act == BOOKED and starts is None:
        raise Unusable(
            "The slot has no begin: TQ1-7, SCH-11.4, AIS-4, AIG-8 and AIL-6 say no day with a time."
        )
    local = starts.astimezone(zone).replace(tzinfo=None) if starts is not None else None
    return SlotSaid(act, filler, placer, local, _places(message))


def _entity(identifier: Field) -> str:
    pieces = [part(identifier, number) for number in (1, 2)]
    return "^".join(pieces).rstrip("^")[:LONGEST_ID] if pieces[0] else ""


def _places(message: Segments) -> tuple[str, ...]:
    """Return what the resources are called that the slot takes up: clinic, service, place."""
    found = [
        value
        for name in ("AIL", "AIG", "AIS", "AIP")
        for row in message.all(name)
        for one in row.field(3)
        for component in one[:3]
        if (value := component[0])
    ]
    return tuple(dict.fromkeys(found))
