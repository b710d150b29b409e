"""What the hospital's system says of people, taken over: the newest word on each field counts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Q

from registry.errors import HoldfastError
from registry.models.hospital_messages import HospitalDoor, HospitalFate, HospitalRecord
from registry.models.identities import Identifier, Identity
from registry.models.merges import PatientMerge, TwoPeople
from registry.models.patients import Patient, PatientStatus
from registry.models.people import Person
from registry.models.sites import Site
from registry.rules import dates, matching
from registry.rules.hl7_said import Number, PersonSaid, Said
from registry.rules.hl7_text import Unusable
from registry.selectors.patients import alike_at, as_person
from registry.services import hospital_digests, merges, patient_locks, patients
from registry.services.enrolment import IdentifierGiven

REASON = "from the hospital's system"
DIED, ALIVE = "died", "alive"


class Waits(HoldfastError):
    """Somebody has to look at a message before anything of it counts; the text says why."""


@dataclass(frozen=True)
class Outcome:
    """What became of a message, why, whom it was about, and what of it is not ours."""

    fate: str
    because: str = ""
    patient: Patient | None = None
    about: tuple[str, ...] = ()


@dataclass(frozen=True)
class Taking:
    """Where, on whose behalf and when something is taken; `chosen` is whom a person named."""

    door: HospitalDoor
    by: Person
    now: datetime
    today: date
    chosen: Patient | None = None

    @property
    def site(self) -> Site:
        """The site whose door it came in by."""
        return self.door.site


@dataclass(frozen=True)
class Holders:
    """Whose the numbers of a message are: the patients, their rows, and what nobody has."""

    patients: tuple[Patient, ...]
    held: tuple[Identifier, ...]
    free: tuple[IdentifierGiven, ...]


def take_person(*, said: Said, taking: Taking) -> Outcome:
    """Take over what is said of one person: names, birth, contacts, numbers, death.

    Raises Waits where a person has to decide, Unusable where no number is of a known authority.
    """
    found = find(said=said, taking=taking)
    if isinstance(found, Outcome):
        return found
    return apply_person(patient=found, said=said, taking=taking)


def find(*, said: Said, taking: Taking) -> Patient | Outcome:
    """Return the patient whom a message is about, or what becomes of it where it is nobody of ours.

    Raises Waits where its numbers are of several, of somebody with another name and birth date, or
    of nobody although somebody here looks the same.
    """
    holders = holders_of(numbers=said.person.numbers, door=taking.door)
    if len(holders.patients) > 1:
        keys = ", ".join(one.key for one in holders.patients)
        raise Waits(f"Its numbers belong to {len(holders.patients)} patients here: {keys}.")
    if taking.chosen is not None:
        if holders.patients and holders.patients[0] != taking.chosen:
            raise Waits(
                f"Its number belongs to {holders.patients[0].key}, not to the patient that was chosen."
            )
        return taking.chosen
    if not holders.patients:
        return _nobody(said, taking)
    _same_person(holders.patients[0], said.person)
    return holders.patients[0]


def take_merge(*, said: Said, taking: Taking) -> Outcome:
    """Take over that numbers were merged: the patient of PID survives, that of MRG is absorbed.

    Raises Waits where the numbers are of several, where both are ours and look like two people or
    were said to be, or where the merge itself is refused.
    """
    outcomes = [_take_pair(pair, taking) for pair in (said, *said.more)]
    first = next((one for one in outcomes if one.fate == HospitalFate.TAKEN), outcomes[0])
    also = {one.because for one in outcomes if one.because}
    return Outcome(first.fate, "; ".join(sorted(also)), first.patient, first.about)


def holders_of(*, numbers: Sequence[Number], door: HospitalDoor) -> Holders:
    """Return whose some numbers are at the site of a door.

    Raises Unusable when none is of an authority that the site takes.
    """
    given = [
        IdentifierGiven(door.number_systems[one.authority], one.value)
        for one in numbers
        if one.authority in door.number_systems
    ]
    if not given:
        raise Unusable("No number of the message is of an authority that this site takes.")
    wanted = Q()
    for one in given:
        wanted |= Q(issuing_system=one.issuing_system, value=one.value)
    rows = Identifier.objects.filter(wanted, site=door.site, patient__voided_at__isnull=True)
    held = tuple(rows.select_related("patient").order_by("pk"))
    there = {(row.issuing_system, row.value) for row in held}
    return Holders(
        patients=tuple({row.patient_id: row.patient for row in held}.values()),
        held=held,
        free=tuple(one for one in given if (one.issuing_system, one.value) not in there),
    )


def apply_person(*, patient: Patient, said: Said, taking: Taking) -> Outcome:
    """Take over the fields on which nothing newer was said; a value that was said before is no news.

    So a correction that was made here stands until the hospital's system says something else.
    """
    holders = holders_of(numbers=said.person.numbers, door=taking.door)
    # The patient before the identity, as an erasure takes them.
    patient_locks.hold(patient)
    identity = Identity.objects.select_for_update().filter(patient=patient).first()
    if identity is None:
        raise Waits("The patient's identity is not kept here any more.")
    record = record_of(patient=patient, site=taking.site)
    late = _absorbed(record, holders, said)
    if late is not None:
        return late
    news = _News(record, said.clock)
    changes = _identity_changes(identity, said.person, news)
    if changes:
        patients.correct_identity(
            identity=identity,
            values=changes,
            expected_version=identity.version,
            by=taking.by,
            now=taking.now,
            today=taking.today,
        )
    for one in holders.free:
        patients.add_identifier(patient=patient, site=taking.site, given=one, by=taking.by)
    died = _take_death(patient, said.person, news, taking)
    news.keep()
    return _told(patient, [*_labels(changes), *(["number"] if holders.free else []), *died], news)


def record_of(*, patient: Patient, site: Site) -> HospitalRecord:
    """Return what is kept of what the hospital's system last said of a patient."""
    return HospitalRecord.objects.get_or_create(site=site, patient=patient)[0]


class _News:
    """The newest word on each field, and whether a message brings a newer one."""

    def __init__(self, record: HospitalRecord, clock: str) -> None:
        self._record, self._clock = record, clock
        self.late = self.asked = 0

    def is_new(self, field: str, value: str) -> bool:
        """Say whether this is the newest word on a field and differs from the last; note it."""
        self.asked += 1
        last = self._record.said.get(field)
        if last is not None and last[0] >= self._clock:
            self.late += last[0] > self._clock
            return False
        self._record.said[field] = [self._clock, hospital_digests.digest_of(value)]
        return last is None or not hospital_digests.is_word(last, value)

    def last(self, field: str) -> Any:
        return self._record.said.get(field)

    def keep(self) -> None:
        self._record.save(update_fields=["said"])


def _nobody(said: Said, taking: Taking) -> Outcome:
    given = _as_given(said.person, None)
    alike = alike_at(site=taking.site, given=given) if given.family_name else []
    if alike:
        keys = ", ".join(one.key for one in alike)
        raise Waits(f"Nobody here has its number, but the names and birth date are like {keys}.")
    return Outcome(HospitalFate.NOT_OURS, "No patient here has its number", about=_about(said))


def _about(said: Said) -> tuple[str, ...]:
    """Return digests of the first numbers of a message, by which it is found again."""
    return tuple(hospital_digests.digest_of(one) for one in _first_numbers(said))


def _first_numbers(said: Said) -> list[str]:
    return [f"{one.authority}|{one.value}" for one in said.person.numbers[:10]]


def _take_pair(said: Said, taking: Taking) -> Outcome:
    door = taking.door
    lost = holders_of(numbers=said.lost, door=door)
    kept = holders_of(numbers=said.person.numbers, door=door)
    if len(lost.patients) > 1 or len(kept.patients) > 1:
        raise Waits("The numbers of one side of the merge belong to several patients here.")
    if not lost.patients and not kept.patients:
        words = "Neither number is of a patient here"
        return Outcome(HospitalFate.NOT_OURS, words, about=_about(said))
    if not lost.patients or not kept.patients or lost.patients == kept.patients:
        one = (kept.patients or lost.patients)[0]
        _same_person(one, said.person)
        done = apply_person(patient=one, said=said, taking=taking)
        return done if kept.patients else _with_missing(done, said, taking)
    loser, keeper = _merge(lost.patients[0], kept.patients[0], taking)
    record = record_of(patient=keeper, site=taking.site)
    before = HospitalRecord.objects.filter(site=taking.site, patient=loser).first()
    numbers = {f"{row.issuing_system}|{row.value}": said.clock for row in lost.held}
    record.absorbed = {**(before.absorbed if before else {}), **record.absorbed, **numbers}
    record.save(update_fields=["absorbed"])
    apply_person(patient=keeper, said=said, taking=taking)
    return Outcome(HospitalFate.TAKEN, f"{loser.key} was merged into {keeper.key}", keeper)


def _merge(loser: Patient, keeper: Patient, taking: Taking) -> tuple[Patient, Patient]:
    locked = Patient.everything.select_for_update().filter(pk__in=[loser.pk, keeper.pk])
    rows = {row.pk: row for row in locked.order_by("pk")}
    loser, keeper = rows[loser.pk], rows[keeper.pk]
    first, second = sorted((loser.pk, keeper.pk))
    parted = PatientMerge.objects.filter(
        Q(kept=keeper, merged=loser) | Q(kept=loser, merged=keeper), undone_at__isnull=False
    )
    if parted.exists() or TwoPeople.objects.filter(first=first, second=second).exists():
        raise Waits(f"Somebody here said that {loser.key} and {keeper.key} are two people.")
    identities = {row.patient_id: row for row in Identity.objects.filter(patient_id__in=list(rows))}
    alike = matching.compare(as_person(identities[loser.pk]), as_person(identities[keeper.pk]))
    if alike.verdict == "different":
        raise Waits(
            f"{loser.key} and {keeper.key} have other names or birth dates: look whether they are "
            "one person, and merge them here if so."
        )
    merges.merge_patients(
        kept=keeper,
        merged=loser,
        reason=REASON,
        kept_version=keeper.version,
        merged_version=loser.version,
        by=taking.by,
        now=taking.now,
    )
    keeper.refresh_from_db()
    return loser, keeper


def _with_missing(done: Outcome, said: Said, taking: Taking) -> Outcome:
    """Say so where messages about the number that survives had come and gone before it was ours."""
    same = Q()
    for number in _first_numbers(said):
        for digest in hospital_digests.digests_of(number):
            same |= Q(about__contains=digest)
    if not taking.site.hospital_messages.filter(same, fate=HospitalFate.NOT_OURS).exists():
        return done
    words = "messages about this number came before it was ours: have them sent again"
    return Outcome(done.fate, f"{done.because}; {words}".lstrip("; "), done.patient)


def _same_person(patient: Patient, said: PersonSaid) -> None:
    identity = Identity.objects.filter(patient=patient).first()
    if identity is None:
        return
    known = as_person(identity)
    if matching.compare(_as_given(said, known), known).verdict == "different":
        raise Waits(
            f"Its number is that of {patient.key}, but names and birth date are somebody else's."
        )


def _as_given(said: PersonSaid, known: matching.Person | None) -> matching.Person:
    """Return what a message says of a person as matching compares it; what it leaves out agrees."""
    born = said.born.earliest if said.born is not None and said.born.exact else None
    return matching.Person(
        family_name=said.values.get("family_name", known.family_name if known else ""),
        given_name=said.values.get("given_name", known.given_name if known else ""),
        birth_date=born,
        sex=said.values.get("sex", ""),
    )


def _absorbed(record: HospitalRecord, holders: Holders, said: Said) -> Outcome | None:
    """Return what becomes of a message about numbers that were all absorbed by a merge."""
    clocks = [record.absorbed.get(f"{row.issuing_system}|{row.value}") for row in holders.held]
    if not clocks or None in clocks:
        return None
    if said.clock <= max(clocks):
        words = "Its number was absorbed by a later merge"
        return Outcome(HospitalFate.OVERTAKEN, words, record.patient)
    raise Waits("It speaks of a number that an earlier merge had absorbed; ask who is meant.")


def _identity_changes(identity: Identity, said: PersonSaid, news: _News) -> dict[str, Any]:
    changes: dict[str, Any] = {
        name: value
        for name, value in said.values.items()
        if news.is_new(name, value) and getattr(identity, name) != value
    }
    if said.born is not None and news.is_new("birth", dates.written(said.born)):
        known = dates.Bounds(identity.birth_earliest, identity.birth_latest)
        coarser = said.born.earliest <= known.earliest and known.latest <= said.born.latest
        if not coarser:
            changes["birth_earliest"] = said.born.earliest
            changes["birth_latest"] = said.born.latest
    return changes


def _take_death(patient: Patient, said: PersonSaid, news: _News, taking: Taking) -> list[str]:
    dead = patient.status == PatientStatus.DIED
    last = news.last("death")
    if said.died is False:
        if news.is_new("death", ALIVE) and dead:
            raise Waits("It says that the patient lives, who is recorded here as died.")
        return []
    if not said.died:
        return []
    if said.died_on is None:
        if dead:
            return []
        raise Waits("It says that the patient died, and not when.")
    if not news.is_new("death", f"{DIED} {said.died_on}"):
        if not dead and last is not None and hospital_digests.is_word(last, ALIVE):
            raise Waits("It says that the patient died, and a newer message that they live.")
        return []
    if dead and patient.status_on == said.died_on:
        return []
    if dead and last is None:
        raise Waits(
            f"It says that the patient died on {said.died_on}; {patient.status_on} is recorded here."
        )
    patients.change_status(
        patient=patient,
        status=PatientStatus.DIED,
        on=said.died_on,
        note=REASON,
        expected_version=patient.version,
        by=taking.by,
        now=taking.now,
        today=taking.today,
    )
    return ["death"]


def _labels(changes: Mapping[str, Any]) -> list[str]:
    words = {"birth_earliest": "birth date", "birth_latest": "birth date"}
    return list(dict.fromkeys(words.get(name, name.replace("_", " ")) for name in changes))


def _told(patient: Patient, done: Sequence[str], news: _News) -> Outcome:
    if done:
        return Outcome(HospitalFate.TAKEN, f"Changed: {', '.join(done)}", patient)
    if news.late and news.late == news.asked:
        words = "Something newer was said of everything in it"
        return Outcome(HospitalFate.OVERTAKEN, words, patient)
    return Outcome(HospitalFate.NOTHING, "It says what is recorded, or was said before", patient)
