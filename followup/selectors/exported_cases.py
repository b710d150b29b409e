"""Cases as rows of our own columns, to be taken elsewhere or into an empty site again."""

from collections.abc import Callable, Collection, Iterator, Mapping
from datetime import date
from typing import Any

from django.db.models import Prefetch, QuerySet

from followup.models.complications import Complication
from followup.models.films import Film, Reading
from followup.models.motion import MotionExam, MotionMode
from followup.models.reviews import Review
from followup.models.scores import Score, ScoreMode
from followup.rules import case_writing
from followup.rules.case_columns.catalogue import COLUMNS
from followup.rules.case_columns.followed import COMPLICATION_NUMBERS
from followup.rules.case_writing import DayFound, WrittenCase
from registry.models.constructs import Construct, ConstructDeparture
from registry.models.injuries import Classification
from registry.models.patients import PatientStatus
from registry.models.procedures import Procedure, ProcedureKind
from registry.models.sites import Site
from registry.rules.dates import Bounds
from registry.selectors.alike import CasePerson
from registry.selectors.choices import usable
from registry.selectors.chunks import in_chunks

# A case comes with some twenty rows, and a query for each of their kinds.
AT_ONCE = 2_000
HEADER = tuple(column.name for column in COLUMNS)
READ = ("ccd_injured_mm", "ccd_other_mm", "ccd_side_ratio_pct", "union", "hardware")
MOVED = ("flexion_deg", "abduction_deg", "external_rotation_deg")
SCORED = ("pain_nrs", "quickdash", "constant")
STATUS = {
    PatientStatus.DIED: "died",
    PatientStatus.WITHDRAWN: "withdrawn",
    PatientStatus.MOVED: "moved",
}
# Who some patients of a site are, by patient; those who may not be named are left out.
People = Callable[[Site, Collection[int]], Mapping[int, CasePerson]]


def cases_of(procedures: "QuerySet[Procedure]", people: People) -> Iterator[WrittenCase]:
    """Yield the cases of some operations, each index procedure a row, in constant memory.

    What patients do not let be used is not among them.
    """
    index = usable(procedures).filter(kind=ProcedureKind.FIXATION, construct__isnull=False)
    rows = index.select_related("site", "injury__patient", "surgeon").prefetch_related(
        Prefetch("construct", queryset=Construct.objects.select_related("construct_type")),
        Prefetch("construct__departures", queryset=ConstructDeparture.objects.order_by("id")),
        Prefetch(
            "injury__classifications",
            queryset=usable(Classification.objects.filter(superseded=False)),
        ),
        Prefetch("injury__films", queryset=usable(Film.objects.order_by("taken_on", "id"))),
        Prefetch(
            "injury__films__readings",
            queryset=usable(
                Reading.objects.filter(superseded_by__isnull=True).order_by("turn", "id")
            ),
        ),
        Prefetch("injury__motion_exams", queryset=usable(MotionExam.objects.order_by("id"))),
        Prefetch("injury__scores", queryset=usable(Score.objects.order_by("id"))),
        Prefetch(
            "injury__procedures",
            queryset=usable(Procedure.objects.all())
            .select_related("construct__construct_type")
            .order_by("performed_on", "id"),
        ),
        Prefetch(
            "injury__procedures__complications",
            queryset=usable(Complication.objects.order_by("detected_on", "id")),
        ),
        Prefetch(
            "injury__procedures__reviews",
            queryset=usable(Review.objects.filter(attended_on__isnull=False)).select_related(
                "step"
            ),
        ),
    )
    for chunk in in_chunks(rows, AT_ONCE):
        named: dict[int, CasePerson] = {}
        for site in {row.site for row in chunk}:
            whose = [row.injury.patient_id for row in chunk if row.site_id == site.pk]
            named |= people(site, whose)
        for row in chunk:
            yield _case(row, named.get(row.injury.patient_id))


def _case(index: Any, person: CasePerson | None) -> WrittenCase:
    injury = index.injury
    days = _days(index)
    placed, homeless = case_writing.place(index.performed_on, list(days.values()))
    of_films, same = case_writing.film_cells(list(placed.values()))
    left = [f"what was found on {one.on}" for one in homeless]
    if not same:
        left.append("posture, weights or calibration of films that differ from the first")
    cells: dict[str, str] = {
        **_person_cells(person),
        **_injury_cells(injury),
        **_operation_cells(index),
        **of_films,
    }
    shared = case_writing.share_view(list(placed.values()))
    for name, one in placed.items():
        cells |= case_writing.day_cells(name, one, view=not shared)
    for part in (_complications(injury, left), _later(index, left), _ended(injury.patient)):
        cells |= part
    return WrittenCase(cells, tuple(left))


def _person_cells(person: CasePerson | None) -> dict[str, str]:
    if person is None:
        return {}
    values = {
        "local_id": person.local_id,
        "family_name": person.family_name,
        "given_name": person.given_name,
        "birth": person.birth,
        "sex": person.sex,
        "phone": person.phone,
    }
    return case_writing.group_cells("person", values, {})


def _injury_cells(injury: Any) -> dict[str, str]:
    values = {**vars(injury), "injured": Bounds(injury.injured_earliest, injury.injured_latest)}
    classes = {one.system: one.code for one in injury.classifications.all()}
    return {
        **case_writing.group_cells("injury", values, injury.missing),
        **case_writing.group_cells("class", classes, {}),
    }


def _operation_cells(index: Any) -> dict[str, str]:
    values = {**vars(index), "surgeon": index.surgeon.username if index.surgeon else ""}
    construct = index.construct
    held = {**vars(construct), "construct_type": construct.construct_type.code}
    reasons = dict.fromkeys(one.reason for one in construct.departures.all() if one.reason)
    return {
        **case_writing.group_cells("procedure", values, index.missing),
        **case_writing.group_cells("construct", held, construct.missing),
        **case_writing.group_cells("departure", {"reason": "; ".join(reasons)[:300]}, {}),
    }


def _days(index: Any) -> dict[date, DayFound]:
    """Gather what was found after an operation, day by day."""
    days: dict[date, DayFound] = {}
    for film in index.injury.films.all():
        _note_film(_on(days, film.taken_on), film)
    for exam in index.injury.motion_exams.all():
        if exam.side == index.injury.side and exam.mode == MotionMode.ACTIVE:
            one = _on(days, exam.examined_on)
            one.motion = {name: getattr(exam, name) for name in MOVED}
            one.missing |= exam.missing
    for score in index.injury.scores.all():
        if score.instrument in SCORED and score.mode == ScoreMode.CLINIC:
            _on(days, score.taken_on).scores[score.instrument] = score.value
    for operation in index.injury.procedures.all():
        for review in operation.reviews.all():
            _note_review(_on(days, review.attended_on), review, first=operation.pk == index.pk)
    return {
        on: one
        for on, one in days.items()
        if on >= index.performed_on and (one.named or one.film or one.motion or one.scores)
    }


def _on(days: dict[date, DayFound], on: date) -> DayFound:
    return days.setdefault(on, DayFound(on))


def _note_film(one: DayFound, film: Any) -> None:
    """Take the first film of a day, as its first reader read it."""
    if one.film is None:
        one.film = vars(film)
        for reading in film.readings.all()[:1]:
            one.reading = {name: getattr(reading, name) for name in READ}
            one.missing |= reading.missing


def _note_review(one: DayFound, review: Any, *, first: bool) -> None:
    if first:
        one.named = review.step.horizon or review.step.code
    one.missing |= _not_obtainable(review.not_obtainable)


def _not_obtainable(said: Mapping[str, str]) -> dict[str, str]:
    return {
        name.removeprefix("score:"): reason.replace(" ", "_")
        for name, reason in said.items()
        if name.startswith("score:")
    }


def _complications(injury: Any, left: list[str]) -> dict[str, str]:
    events = [one for step in injury.procedures.all() for one in step.complications.all()]
    events.sort(key=lambda one: (one.detected_on, one.pk))
    if len(events) > len(COMPLICATION_NUMBERS):
        left.append(f"{len(events) - len(COMPLICATION_NUMBERS)} further unwanted events")
    cells: dict[str, str] = {}
    for number, event in zip(COMPLICATION_NUMBERS, events, strict=False):
        cells |= case_writing.group_cells(f"complication_{number}", vars(event), {})
    return cells


def _later(index: Any, left: list[str]) -> dict[str, str]:
    cells: dict[str, str] = {}
    for kind, group in (
        (ProcedureKind.REVISION_FIXATION, "revision"),
        (ProcedureKind.IMPLANT_REMOVAL, "removal"),
    ):
        done = [one for one in index.injury.procedures.all() if one.kind == kind]
        if len(done) > 1:
            left.append(f"{len(done) - 1} further operations ({group})")
        for one in done[:1]:
            construct = getattr(one, "construct", None)
            values = {
                "performed_on": one.performed_on,
                "construct_type": construct.construct_type.code if construct else "",
                "planned": one.planned_removal,
            }
            cells |= case_writing.group_cells(group, values, {})
    return cells


def _ended(patient: Any) -> dict[str, str]:
    field = STATUS.get(patient.status)
    values = {field: patient.status_on} if field else {}
    return case_writing.group_cells("status", values, {})
