"""What a site knows of the people and operations of a file, and what the file's earlier lines add."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from followup.rules.case_facts import ParsedCase, PersonGiven, RowFault
from registry.models.imports import ImportBatch, ImportRow, ImportState
from registry.models.patients import Patient, PatientStatus
from registry.models.procedures import Procedure, ProcedureKind
from registry.models.sites import Site
from registry.rules import dates, matching
from registry.selectors import alike
from registry.selectors.alike import Alike, Index
from registry.selectors.patients import Numbered, numbered
from registry.services.enrolment import HOSPITAL_NUMBER

ASKED_AT_ONCE = 500
STATUS_COLUMNS = {"died": "died_on", "withdrawn": "withdrew_on", "moved": "moved_on"}
LANDED_BY = (ImportState.RUNNING, ImportState.DONE, ImportState.PARTIAL)
SAME, OTHER = "same", "other"
# A number of a file and whom it was compared with, and what a person said: the same, or another.
Answers = Mapping[tuple[str, str], str]
NO_ANSWERS: Answers = {}


@dataclass(frozen=True)
class Likeness:
    """A person of a file beside who may be the same: a patient, or the person of an earlier line.

    `other_key` tells the other one in a word; `likely` says that the score is above the upper
    threshold and nothing had to be stretched.
    """

    line: int
    number: str
    person: PersonGiven
    other_key: str
    other_patient: int | None
    other_line: int | None
    other_number: str
    other_person: PersonGiven | None
    weight: float
    likely: bool
    because: str
    answer: str = ""


@dataclass(frozen=True)
class Who:
    """Whose a row is: a patient known by number, or by likeness, or somebody new, or not known yet.

    `joins` names the one who is the same, `different` those who are not; `asks` what only a person
    can decide.
    """

    patient: Patient | None = None
    joins: Likeness | None = None
    different: tuple[Likeness, ...] = ()
    asks: tuple[Likeness, ...] = ()
    pairs: tuple[Likeness, ...] = ()


def matched(person: PersonGiven) -> matching.Person:
    """Return what matching compares of a file's person; a birth date known in part is not compared."""
    return matching.Person(
        family_name=person.family_name,
        given_name=person.given_name,
        birth_date=person.birth.earliest if person.birth.exact else None,
        sex=person.sex,
        phone=person.phone,
    )


@dataclass
class _Somebody:
    """One patient, from the record or from an earlier line of the file."""

    source: str
    family_name: str
    given_name: str
    birth: dates.Bounds
    status: str = PatientStatus.ACTIVE
    status_on: date | None = None
    last_operation: date | None = None


@dataclass
class _InFile:
    """People of earlier lines, found by what they share."""

    people: list[tuple[int, PersonGiven]] = field(default_factory=list)
    index: Index = field(default_factory=Index)

    def add(self, line: int, person: PersonGiven) -> None:
        self.index.add(len(self.people), matched(person))
        self.people.append((line, person))

    def near(self, person: PersonGiven) -> Iterator[tuple[int, PersonGiven]]:
        for place in self.index.near(matched(person)):
            yield self.people[place]


class Recorded:
    """What the site knows of the people and operations of a file, and what its earlier lines add.

    What is asked of the database is asked for many cases at once, by `load`, before they are weighed
    one by one. `batch` is the import that goes on: what it has landed counts as earlier lines.
    """

    def __init__(
        self, site: Site, *, answers: Answers = NO_ANSWERS, batch: ImportBatch | None = None
    ) -> None:
        """Start with nothing loaded."""
        self._site, self._answers, self._batch = site, answers, batch
        self._numbers: dict[str, Numbered] = {}
        self._people: dict[str, _Somebody] = {}
        self._operations: set[tuple[str, str, date]] = set()
        self._landed: dict[str, bool] = {}
        self._lines: dict[tuple[str, str, date], tuple[int, str]] = {}
        self._alike: dict[str, list[Alike]] = {}
        self._in_file, self._who = _InFile(), dict[str, Who]()

    def load(self, cases: Sequence[ParsedCase]) -> None:
        """Ask the database about some cases; the answers before are forgotten."""
        self._numbers = numbered(
            self._site, HOSPITAL_NUMBER, [case.person.local_id for case in cases]
        )
        for number, one in self._numbers.items():
            self._people.setdefault(number, _from_record(one))
        operations = dict(_operations(self._site, self._numbers))
        self._operations = set(operations)
        if self._batch is not None:
            self._lines |= _by_this_batch(self._batch, operations)
        self._landed = dict(_landed(self._site, [case.fingerprint for case in cases]))
        strangers = {
            case.person.local_id: case.person
            for case in cases
            if case.person.local_id not in self._numbers
        }
        found = alike.alike_at(
            self._site, HOSPITAL_NUMBER, [matched(person) for person in strangers.values()]
        )
        self._alike = dict(zip(strangers, found, strict=True))

    def who(self, case: ParsedCase) -> Who:
        """Say whose a case is; the lines of one number are of one patient."""
        number = case.person.local_id
        one = self._numbers.get(number)
        if one is not None:
            return Who(patient=one.patient)
        if number not in self._who:
            self._who[number] = _decided(self._likenesses(case))
        return self._who[number]

    def _likenesses(self, case: ParsedCase) -> list[Likeness]:
        given = case.person
        found = [self._to_patient(case, one) for one in self._alike.get(given.local_id, ())]
        for line, other in self._in_file.near(given):
            match = matching.compare(matched(given), matched(other))
            if other.local_id != given.local_id and match.verdict != "different":
                found.append(self._to_line(case, line, other, match))
        return sorted(found, key=lambda one: -one.weight)

    def _to_patient(self, case: ParsedCase, one: Alike) -> Likeness:
        key = f"patient {one.patient_id}"
        answer = self._answer(case, [key, *(f"number {number}" for number in one.numbers)])
        return Likeness(
            line=case.line,
            number=case.person.local_id,
            person=case.person,
            other_key=key,
            other_patient=one.patient_id,
            other_line=None,
            other_number="",
            other_person=None,
            weight=one.match.weight,
            likely=one.match.verdict == "same",
            because=one.because,
            answer=answer,
        )

    def _to_line(
        self, case: ParsedCase, line: int, other: PersonGiven, match: matching.Match
    ) -> Likeness:
        key = f"number {other.local_id}"
        return Likeness(
            line=case.line,
            number=case.person.local_id,
            person=case.person,
            other_key=key,
            other_patient=None,
            other_line=line,
            other_number=other.local_id,
            other_person=other,
            weight=match.weight,
            likely=match.verdict == "same",
            because=alike.agreeing(matched(case.person), matched(other)),
            answer=self._answer(case, [key]),
        )

    def _answer(self, case: ParsedCase, keys: Iterable[str]) -> str:
        number = case.person.local_id
        for key in keys:
            said = self._answers.get((number, key))
            if said is None and key.startswith("number "):
                said = self._answers.get((key.removeprefix("number "), f"number {number}"))
            if said:
                return said
        return ""

    def why_known(self, case: ParsedCase) -> str:
        """Say why a case adds nothing, '' when it does."""
        if case.fingerprint in self._landed:
            voided = self._landed[case.fingerprint]
            return "imported before, and voided since" if voided else "imported before"
        key = _key(case)
        if key in self._lines:
            return f"the same as line {self._lines[key][0]}"
        if key in self._operations:
            return (
                "this operation is recorded already, by hand or from a row that said something "
                "else; changes are made in the record itself"
            )
        return ""

    def faults(self, case: ParsedCase) -> list[RowFault]:
        """Return where a case contradicts the record, or an earlier line of the file."""
        faults = []
        twin = self._lines.get(_key(case))
        if twin is not None and twin[1] != case.fingerprint:
            said = f"line {twin[0]} gives this operation too, and says something else; keep one"
            faults.append(RowFault(case.line, "procedure_date", str(_operated(case)), said))
        one = self._people.get(case.person.local_id)
        if one is not None:
            faults += _other_person(case, one) or _other_ending(case, one)
        return faults

    def add(self, case: ParsedCase) -> None:
        """Remember a case for the lines below it."""
        self._lines.setdefault(_key(case), (case.line, case.fingerprint))
        given = case.person
        whose = self._who.get(given.local_id, Who())
        if given.local_id not in self._people and whose.joins is None:
            self._in_file.add(case.line, given)
        here = f"line {case.line}"
        one = self._people.setdefault(
            given.local_id, _Somebody(here, given.family_name, given.given_name, given.birth)
        )
        if case.status != PatientStatus.ACTIVE:
            one.status, one.status_on = case.status, case.status_on
        one.last_operation = max(one.last_operation or date.min, _operated(case))


def _decided(pairs: list[Likeness]) -> Who:
    """Weigh what was said, and what is likely; where that does not make one of it, ask."""
    said_same = [one for one in pairs if one.answer == SAME]
    different = tuple(one for one in pairs if one.answer == OTHER)
    open_ones = [one for one in pairs if not one.answer]
    if len({one.other_key for one in said_same}) == 1:
        return Who(joins=said_same[0], different=different, pairs=tuple(pairs))
    likely = [one for one in open_ones if one.likely]
    doubtful = [one for one in open_ones if not one.likely]
    if said_same or doubtful or len(likely) > 1:
        return Who(asks=tuple(said_same or open_ones), different=different, pairs=tuple(pairs))
    joins = likely[0] if likely else None
    return Who(joins=joins, different=different, pairs=tuple(pairs))


def _from_record(one: Numbered) -> _Somebody:
    patient = one.patient
    return _Somebody(
        "the record",
        one.family_name,
        one.given_name,
        one.birth,
        status=patient.status,
        status_on=patient.status_on,
    )


def _operated(case: ParsedCase) -> date:
    day: date = case.procedure["performed_on"]
    return day


def _key(case: ParsedCase) -> tuple[str, str, date]:
    return case.person.local_id, case.injury["side"], _operated(case)


def _by_this_batch(
    batch: ImportBatch, operations: Mapping[tuple[str, str, date], int]
) -> dict[tuple[str, str, date], tuple[int, str]]:
    key_of = {procedure: key for key, procedure in operations.items()}
    found = {}
    wanted = sorted(key_of)
    for start in range(0, len(wanted), ASKED_AT_ONCE):
        rows = ImportRow.objects.filter(
            batch=batch, procedure__in=wanted[start : start + ASKED_AT_ONCE]
        ).values_list("procedure_id", "line", "fingerprint")
        for procedure, line, fingerprint in rows:
            found[key_of[procedure]] = line, fingerprint
    return found


def _operations(
    site: Site, people: dict[str, Numbered]
) -> Iterator[tuple[tuple[str, str, date], int]]:
    numbers_of: dict[int, list[str]] = {}
    for number, one in people.items():
        numbers_of.setdefault(one.patient.pk, []).append(number)
    wanted = sorted(numbers_of)
    for start in range(0, len(wanted), ASKED_AT_ONCE):
        rows = Procedure.objects.filter(
            site=site,
            kind=ProcedureKind.FIXATION,
            injury__patient__in=wanted[start : start + ASKED_AT_ONCE],
        ).values_list("injury__patient_id", "injury__side", "performed_on", "pk")
        for patient, side, day, procedure in rows:
            for number in numbers_of[patient]:
                yield (number, side, day), procedure


def _landed(site: Site, prints: Sequence[str]) -> Iterator[tuple[str, bool]]:
    for start in range(0, len(prints), ASKED_AT_ONCE):
        rows = (
            ImportRow.objects.filter(
                batch__site=site,
                procedure__isnull=False,
                batch__state__in=LANDED_BY,
                fingerprint__in=prints[start : start + ASKED_AT_ONCE],
            )
            .order_by("id")
            .values_list("fingerprint", "procedure__voided_at")
        )
        for fingerprint, voided_at in rows:
            yield fingerprint, voided_at is not None


def _other_person(case: ParsedCase, one: _Somebody) -> list[RowFault]:
    """Tell people apart without saying what the record holds: the importer may not see names."""
    given: PersonGiven = case.person
    apart = given.birth.latest < one.birth.earliest or one.birth.latest < given.birth.earliest
    if apart:
        said = f"{one.source} gives this number another birth date; one number is one patient"
        return [RowFault(case.line, "birth_date", dates.written(given.birth), said)]
    names = {matching.plain(given.family_name), matching.plain(given.given_name)}
    if names.isdisjoint({matching.plain(one.family_name), matching.plain(one.given_name)}):
        said = f"{one.source} gives this number another name; one number is one patient"
        return [RowFault(case.line, "family_name", given.family_name, said)]
    return []


def _other_ending(case: ParsedCase, one: _Somebody) -> list[RowFault]:
    operated, ended = _operated(case), PatientStatus.ACTIVE
    if one.status == PatientStatus.DIED and one.status_on and operated > one.status_on:
        said = f"{operated} is after the death ({one.status_on}, {one.source})"
        return [RowFault(case.line, "procedure_date", str(operated), said)]
    if case.status == ended:
        return []
    column, on = STATUS_COLUMNS[case.status], case.status_on or date.max
    if one.status != ended and (one.status, one.status_on) != (case.status, case.status_on):
        before = PatientStatus(one.status).label.lower()
        said = f"{one.source} says: {before} on {one.status_on}; keep one"
        return [RowFault(case.line, column, str(on), said)]
    last = one.last_operation
    if case.status == PatientStatus.DIED and last is not None and last > on:
        said = f"{on} is before this patient's operation of {last} in an earlier line"
        return [RowFault(case.line, column, str(on), said)]
    return []
