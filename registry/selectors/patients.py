"""Finding patients: by name, number or key; those left half entered; those who may be one person."""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Prefetch, Q, QuerySet

from registry.models.identities import Identifier, Identity, Means
from registry.models.injuries import Injury
from registry.models.patients import Patient
from registry.models.procedures import Procedure, ProcedureKind
from registry.models.sites import Site
from registry.rules import dates, matching
from registry.selectors.visible import Viewer, visible

COMPARED = 200
# A weight that the same names reach with a mistyped birth date, and not with another one.
ALIKE = 20.0
ASKED_AT_ONCE = 500
SHOWN = 10
# Whatever people write between the digits of a number.
NO_DIGIT, LAST_DIGITS = "[^0-9]*", 6
SAME_NUMBER = "the same number"


@dataclass(frozen=True)
class Candidate:
    """A patient who may be the one that is being entered, with why in words."""

    patient: Patient
    because: str


@dataclass(frozen=True)
class Numbered:
    """Whom a number of a site belongs to, as far as it tells one person from another."""

    patient: Patient
    family_name: str
    given_name: str
    birth: dates.Bounds


@dataclass(frozen=True)
class Unfinished:
    """An enrolment that stopped halfway: whose, what comes next, and where it goes on."""

    patient: Patient
    lacks: str
    url_name: str
    url_arg: str | int


def named_exactly(*, key: str, number: str, born: date | None) -> Patient | None:
    """Return the one patient of any site with exactly this key, or exactly this number and birth date.

    None where nobody is, or several are: whoever asks has to know whom they mean.
    """
    there = Patient.objects.filter(merged_into__isnull=True, identity__isnull=False)
    if key:
        return there.filter(key=key.strip().upper()).first()
    if not number.strip() or born is None:
        return None
    numbered = Identifier.objects.filter(value=number.strip()).values("patient_id")
    born_then = Q(identity__birth_earliest=born, identity__birth_latest=born)
    found = list(there.filter(born_then, pk__in=numbered)[:2])
    return found[0] if len(found) == 1 else None


def reached_at(
    *, site: Site, means: str, where: str, dialled: Callable[[str], str]
) -> list[Patient]:
    """Return the patients of a site whom a number, or by e-mail an address, reaches.

    `dialled` writes every form of a number in one way, '' for what is none. The database finds those
    with the same last digits; only who has the whole number is returned.
    """
    here = Identity.objects.filter(
        patient__at_sites__site=site, patient__merged_into__isnull=True
    ).select_related("patient")
    if means == Means.EMAIL:
        found = here.filter(email__iexact=where.strip()).exclude(email="")
        return [one.patient for one in found.order_by("pk")]
    wanted = dialled(where)
    if not wanted:
        return []
    last = NO_DIGIT.join(wanted[-LAST_DIGITS:])
    alike = here.filter(phone__regex=f"{last}{NO_DIGIT}$").order_by("pk")
    return [one.patient for one in alike if dialled(one.phone) == wanted]


def search(user: Viewer, text: str) -> QuerySet[Patient]:
    """Return the patients whose name, number or key holds every word, sorted by name.

    Without words, everybody that the person may see.
    """
    theirs = visible(user, Identifier, "see_identity")
    found: QuerySet[Patient] = (
        visible(user, Patient, "see_identity")
        .filter(identity__isnull=False)
        .select_related("identity", "site")
        .prefetch_related(Prefetch("identifiers", queryset=theirs, to_attr="numbers"))
        .order_by("identity__sort_name", "key")
    )
    for word in text.split():
        numbers = theirs.filter(value__istartswith=word).values("patient_id")
        found = found.filter(
            Q(identity__sort_name__contains=word.casefold())
            | Q(key__iexact=word)
            | Q(pk__in=numbers)
        )
    return found


def candidates(
    user: Viewer,
    given: matching.Person,
    numbers: Sequence[str] = (),
    leave_out: Patient | None = None,
) -> list[Candidate]:
    """Return visible patients who may be the person given, the likeliest first, at most ten.

    Looked for among those born that day (or with day and month exchanged), of the same name in
    either order, with the same phone, or with one of the numbers.
    """
    same_number = set(
        visible(user, Identifier, "see_identity")
        .filter(value__in=[number for number in numbers if number])
        .values_list("patient_id", flat=True)
    )
    rows = (
        visible(user, Identity, "see_identity")
        .filter(_block(given) | Q(patient_id__in=same_number))
        .select_related("patient__site")
    )
    if leave_out is not None:
        rows = rows.exclude(patient=leave_out)
    weighed = []
    for row in rows[:COMPARED]:
        match = matching.compare(given, as_person(row))
        if row.patient_id in same_number:
            weighed.append((1000.0, Candidate(row.patient, SAME_NUMBER)))
        elif match.verdict != "different":
            weighed.append((match.weight, Candidate(row.patient, in_words(given, row))))
    weighed.sort(key=lambda pair: -pair[0])
    return [candidate for _, candidate in weighed[:SHOWN]]


def names_seen(user: Viewer, patients: Collection[int]) -> dict[int, str]:
    """Return the names of those of some patients whose identity a person may see."""
    rows = visible(user, Identity, "see_identity").filter(patient__in=patients)
    return {row.patient_id: str(row) for row in rows}


def alike_at(*, site: Site, given: matching.Person) -> list[Patient]:
    """Return the patients of a site who may well be the person given, the likeliest first.

    For what a machine hands on about strangers as well: a name in common is not enough, it has to be
    the same name and nearly the same birth date, or what weighs as much.
    """
    here = Identity.objects.filter(
        _block(given),
        patient__at_sites__site=site,
        patient__merged_into__isnull=True,
        patient__voided_at__isnull=True,
    ).select_related("patient")
    weighed = [(matching.compare(given, as_person(row)).weight, row) for row in here[:COMPARED]]
    alike = sorted((pair for pair in weighed if pair[0] >= ALIKE), key=lambda pair: -pair[0])
    return [row.patient for _, row in alike[:SHOWN]]


def numbered(site: Site, system: str, numbers: Collection[str]) -> dict[str, Numbered]:
    """Return who has which of these numbers that one system issued at a site."""
    wanted = sorted(set(numbers))
    found: dict[str, Numbered] = {}
    for start in range(0, len(wanted), ASKED_AT_ONCE):
        rows = Identifier.objects.filter(
            site=site,
            issuing_system=system,
            value__in=wanted[start : start + ASKED_AT_ONCE],
            patient__identity__isnull=False,
        ).select_related("patient__identity")
        for row in rows:
            who = row.patient.identity
            birth = dates.Bounds(who.birth_earliest, who.birth_latest)
            found[row.value] = Numbered(row.patient, who.family_name, who.given_name, birth)
    return found


def as_person(row: Identity) -> matching.Person:
    """Return what matching compares of an identity; a birth date known in part is not compared."""
    return matching.Person(
        family_name=row.family_name,
        given_name=row.given_name,
        birth_date=row.birth_earliest if row.birth_earliest == row.birth_latest else None,
        sex=row.sex,
        phone=row.phone,
    )


def in_words(given: matching.Person, row: Identity) -> str:
    """Say in which respects an identity is like the person given."""
    other = as_person(row)
    same = [
        words
        for words, agrees in (
            ("family name", matching.plain(given.family_name) == matching.plain(row.family_name)),
            ("given name", matching.plain(given.given_name) == matching.plain(row.given_name)),
            ("birth date", given.birth_date is not None and given.birth_date == other.birth_date),
            ("phone", bool(given.phone) and given.phone == row.phone),
        )
        if agrees
    ]
    return f"the same {', '.join(same)}" if same else "similar name and birth date"


def unfinished(user: Viewer, limit: int = 20) -> list[Unfinished]:
    """Return enrolments that lack an injury, an operation or a construct, the newest first."""
    mine = visible(user, Patient, "enrol").filter(identity__isnull=False)
    without_injury = (
        mine.exclude(pk__in=Injury.objects.values("patient_id"))
        .select_related("identity")
        .order_by("-recorded_at")
    )
    injuries = (
        visible(user, Injury, "enrol")
        .filter(patient__in=mine)
        .exclude(pk__in=Procedure.objects.values("injury_id"))
        .select_related("patient__identity")
        .order_by("-recorded_at")
    )
    procedures = (
        visible(user, Procedure, "enrol")
        .filter(
            injury__patient__in=mine,
            kind__in=[ProcedureKind.FIXATION, ProcedureKind.REVISION_FIXATION],
            construct__isnull=True,
        )
        .select_related("injury__patient__identity")
        .order_by("-recorded_at")
    )
    rows = [
        *((one.recorded_at, _lacking_injury(one)) for one in without_injury[:limit]),
        *((one.recorded_at, _lacking_operation(one)) for one in injuries[:limit]),
        *((one.recorded_at, _lacking_construct(one)) for one in procedures[:limit]),
    ]
    rows.sort(key=lambda pair: pair[0], reverse=True)
    return [line for _, line in rows[:limit]]


def _lacking_injury(patient: Patient) -> Unfinished:
    return Unfinished(patient, "the injury", "enrol-injury", patient.key)


def _lacking_operation(injury: Injury) -> Unfinished:
    return Unfinished(injury.patient, f"the operation ({injury})", "enrol-procedure", injury.pk)


def _lacking_construct(procedure: Procedure) -> Unfinished:
    whose = procedure.injury.patient
    return Unfinished(whose, f"the construct ({procedure})", "enrol-construct", procedure.pk)


def _block(given: matching.Person) -> Q:
    forward = f"{given.family_name} {given.given_name}".casefold()[:170]
    swapped = f"{given.given_name} {given.family_name}".casefold()[:170]
    block = Q(sort_name__in=[forward, swapped])
    if given.birth_date is not None:
        block |= Q(birth_earliest__in=_days_like(given.birth_date))
    if given.phone:
        block |= Q(phone=given.phone)
    return block


def _days_like(day: date) -> list[date]:
    days = [day]
    if day.day <= 12 and day.day != day.month:
        days.append(date(day.year, day.day, day.month))
    return days
