"""Who of a site's patients may be the people of a list: scored many at a time."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Q

from registry.models.identities import Identifier, Identity
from registry.models.patients import Patient
from registry.models.sites import Site
from registry.rules import dates, matching
from registry.rules.matching import Match, Person
from registry.selectors.patients import as_person
from registry.selectors.visible import Viewer, visible

ASKED_AT_ONCE = 200


@dataclass(frozen=True)
class Alike:
    """A patient who may be the person asked about, with the score and what agrees in words."""

    patient_id: int
    numbers: frozenset[str]
    match: Match
    because: str


@dataclass
class Index:
    """People by what true pairs share: the birth date, the names in either order, the telephone."""

    by_key: dict[str, list[int]] = field(default_factory=dict)

    def add(self, place: int, person: Person) -> None:
        """Remember where a person stands."""
        for key in keys(person):
            self.by_key.setdefault(key, []).append(place)

    def near(self, person: Person) -> list[int]:
        """Return the places of those who share something with a person, in order."""
        found = {place for key in keys(person, wide=True) for place in self.by_key.get(key, ())}
        return sorted(found)


def keys(person: Person, *, wide: bool = False) -> list[str]:
    """Return what a person is found by; `wide` with day and month exchanged and names swapped."""
    found = [f"name {sort_name(person)}"]
    if wide:
        found.append(f"name {sort_name(_swapped(person))}")
    if person.birth_date is not None:
        days = days_like(person.birth_date) if wide else [person.birth_date]
        found += [f"born {day}" for day in days]
    if person.phone:
        found.append(f"phone {person.phone}")
    return found


def alike_at(site: Site, system: str, given: Sequence[Person]) -> list[list[Alike]]:
    """Return for each person the patients of a site who may be the same, the likeliest first.

    Looked for as in `Index`; `system` is the one whose numbers are told of each patient. The number
    of queries grows with the hundreds of people only.
    """
    rows: dict[int, Identity] = {}
    for start in range(0, len(given), ASKED_AT_ONCE):
        here = Identity.objects.filter(
            patient__at_sites__site=site,
            patient__merged_into__isnull=True,
            patient__voided_at__isnull=True,
        )
        for row in here.filter(_block(given[start : start + ASKED_AT_ONCE])):
            rows[row.patient_id] = row
    index, people = Index(), {patient: as_person(row) for patient, row in rows.items()}
    for patient, person in people.items():
        index.add(patient, person)
    numbers = _numbers(site, system, rows)
    return [
        sorted(
            (
                Alike(near, numbers.get(near, frozenset()), match, agreeing(one, people[near]))
                for near in index.near(one)
                if (match := matching.compare(one, people[near])).verdict != "different"
            ),
            key=lambda found: (-found.match.weight, found.patient_id),
        )
        for one in given
    ]


def agreeing(one: Person, other: Person) -> str:
    """Say in which respects two people are alike."""
    same = [
        words
        for words, agrees in (
            ("family name", matching.plain(one.family_name) == matching.plain(other.family_name)),
            ("given name", matching.plain(one.given_name) == matching.plain(other.given_name)),
            ("birth date", one.birth_date is not None and one.birth_date == other.birth_date),
            ("phone", bool(one.phone) and one.phone == other.phone),
        )
        if agrees
    ]
    return f"the same {', '.join(same)}" if same else "similar names and birth date"


def sort_name(person: Person) -> str:
    """Return a person's name as identities are sorted by it."""
    return f"{person.family_name} {person.given_name}".casefold()[:170]


def days_like(day: date) -> list[date]:
    """Return a day, and with its day and month exchanged where that is a day."""
    if day.day <= 12 and day.day != day.month:
        return [day, date(day.year, day.day, day.month)]
    return [day]


def _swapped(person: Person) -> Person:
    return Person(person.given_name, person.family_name)


def _block(given: Iterable[Person]) -> Q:
    names, days, phones = set(), set(), set()
    for person in given:
        names |= {sort_name(person), sort_name(_swapped(person))}
        if person.birth_date is not None:
            days |= set(days_like(person.birth_date))
        if person.phone:
            phones.add(person.phone)
    block = Q(sort_name__in=sorted(names)) | Q(birth_earliest__in=sorted(days))
    return block | Q(phone__in=sorted(phones)) if phones else block


def _numbers(site: Site, system: str, patients: Iterable[int]) -> dict[int, frozenset[str]]:
    found: dict[int, set[str]] = {}
    wanted = sorted(patients)
    for start in range(0, len(wanted), ASKED_AT_ONCE):
        rows = Identifier.objects.filter(
            site=site,
            issuing_system=system,
            patient__in=wanted[start : start + ASKED_AT_ONCE],
        ).values_list("patient_id", "value")
        for patient, value in rows:
            found.setdefault(patient, set()).add(value)
    return {patient: frozenset(values) for patient, values in found.items()}


@dataclass(frozen=True)
class Entry:
    """What is shown of a patient beside somebody who may be the same."""

    patient: Patient
    name: str
    birth: str
    sex: str
    phone: str
    numbers: tuple[str, ...]


def entries_of(user: Viewer, patients: Collection[int]) -> dict[int, Entry]:
    """Return what a person may see of some patients' identities."""
    rows = (
        visible(user, Identity, "see_identity")
        .filter(patient_id__in=set(patients))
        .select_related("patient")
    )
    numbers: dict[int, list[str]] = {}
    for one in visible(user, Identifier, "see_identity").filter(patient_id__in=set(patients)):
        numbers.setdefault(one.patient_id, []).append(one.value)
    return {
        row.patient_id: Entry(
            patient=row.patient,
            name=str(row),
            birth=dates.written(dates.Bounds(row.birth_earliest, row.birth_latest)),
            sex=row.get_sex_display(),
            phone=row.phone,
            numbers=tuple(numbers.get(row.patient_id, ())),
        )
        for row in rows
    }


@dataclass(frozen=True)
class CasePerson:
    """Who the patient of a case is, by the number that one site gave first."""

    local_id: str
    family_name: str
    given_name: str
    birth: dates.Bounds
    sex: str
    phone: str


def case_people(site: Site, system: str, patients: Collection[int]) -> dict[int, CasePerson]:
    """Return who some patients of a site are, by patient."""
    # Of several the first counts: it is the last that is put down.
    rows = Identifier.objects.filter(
        site=site, issuing_system=system, patient_id__in=set(patients)
    ).order_by("-id")
    numbers: dict[int, str] = dict(rows.values_list("patient_id", "value"))
    return {
        one.patient_id: CasePerson(
            local_id=numbers.get(one.patient_id, ""),
            family_name=one.family_name,
            given_name=one.given_name,
            birth=dates.Bounds(one.birth_earliest, one.birth_latest),
            sex=one.sex,
            phone=one.phone,
        )
        for one in Identity.objects.filter(patient_id__in=set(patients))
    }
