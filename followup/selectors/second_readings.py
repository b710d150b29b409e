"""Which second and third readings wait, for whom, and what a film was read as so far."""

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date

from django.db.models import Case, Exists, OuterRef, Q, QuerySet, Value, When

from followup.models.films import CALIBRATED, Film, Reading
from followup.models.readings import WantedReading, WantedState
from followup.rules import second_readings as rules
from followup.rules.second_readings import SECOND, THIRD, Lengths, Measured
from followup.selectors.films import current_readings
from followup.selectors.visible import visible
from registry.models.people import Person
from registry.models.procedures import Procedure, ProcedureKind
from registry.selectors.visible import Viewer

IMPLANTING = (ProcedureKind.FIXATION, ProcedureKind.REVISION_FIXATION)


@dataclass(frozen=True)
class Hidden:
    """How a film is shown to whoever reads it blind: which reading it is, and by what number."""

    turn: int
    number: int
    wanted: WantedReading | None

    @property
    def words(self) -> str:
        """What it is called in the place of the film's name and day."""
        if self.wanted is not None:
            return str(self.wanted)
        return f"Film number {self.number}"

    @property
    def may_give_back(self) -> bool:
        """Whether it was taken and is not done yet."""
        return self.wanted is not None and self.wanted.state == WantedState.WANTED


def wanted_for(user: Viewer, turn: int) -> QuerySet[WantedReading]:
    """Return the readings of one turn that wait for a person: taken by them first, then the oldest.

    What another has taken is not there, nor a film that the person has read before.
    """
    read = Reading.objects.filter(film=OuterRef("film"), reader=user)
    rows: QuerySet[WantedReading] = (
        visible(user, WantedReading, "read_film")
        .filter(state=WantedState.WANTED, turn=turn)
        .filter(Q(reader__isnull=True) | Q(reader=user))
        .filter(~Exists(read))
    )
    own_first = Case(When(reader=user, then=Value(0)), default=Value(1))
    return rows.select_related("film__injury", "site").order_by(own_first, "id")


def numbers_waiting(user: Viewer) -> dict[int, int]:
    """Return how many second and third readings wait for a person."""
    return {turn: wanted_for(user, turn).count() for turn in (SECOND, THIRD)}


def wanted_reading(user: Viewer, wanted_id: int) -> WantedReading | None:
    """Return a wanted reading of a site where a person reads; None when it is not there."""
    row: WantedReading | None = (
        visible(user, WantedReading, "read_film").filter(pk=wanted_id).first()
    )
    return row


def taken_by(user: Viewer) -> QuerySet[WantedReading]:
    """Return the readings that a person has taken and not done."""
    rows: QuerySet[WantedReading] = WantedReading.objects.filter(
        reader=user, state=WantedState.WANTED
    )
    return rows


def hidden_from(user: Person, film: Film, own: Reading | None, *, course: bool) -> Hidden | None:
    """Return how a film is shown to a person who is to read it blind; None where nothing is hidden.

    Blind is whoever has taken a reading that was drawn, or has done it, and whoever may not open the
    patient's course and is not the film's first reader. `own` is the person's present reading, and
    `course` says whether they may open the course.
    """
    if own is not None and not own.blind:
        return None
    mine = WantedReading.objects.filter(film=film, reader=user).order_by("-id").first()
    if mine is not None:
        return Hidden(mine.turn, mine.pk, mine)
    turn = own.turn if own is not None else current_readings().filter(film=film).count() + 1
    return None if course or turn < SECOND else Hidden(turn, film.pk, None)


def read_so_far(film_ids: Collection[int]) -> dict[int, list[Reading]]:
    """Return the current readings of some films, in the order of their readers' turns."""
    found: dict[int, list[Reading]] = defaultdict(list)
    rows = Reading.objects.filter(film__in=film_ids, superseded_by__isnull=True)
    for row in rows.order_by("turn", "id"):
        found[row.film_id].append(row)
    return found


def lengths_of(reading: Reading) -> Lengths:
    """Return what a reading says of the CC distance, as the rules know it."""
    ccd, other, ratio = (
        None if value is None else float(value)
        for value in (reading.ccd_injured_mm, reading.ccd_other_mm, reading.ccd_side_ratio_pct)
    )
    return Lengths(ccd, other, ratio)


def baselines_of(films: Collection[Film]) -> dict[int, float]:
    """Return the CC distance that each of some films is compared with, where there is one.

    Two queries.
    """
    injuries = {film.injury_id for film in films}
    fixed: dict[int, list[date]] = defaultdict(list)
    for injury_id, day in Procedure.objects.filter(
        injury__in=injuries, kind__in=IMPLANTING
    ).values_list("injury_id", "performed_on"):
        fixed[injury_id].append(day)
    measured = _measured(injuries)
    found = {}
    for film in films:
        length = rules.baseline_of(
            film.taken_on, film.view, fixed[film.injury_id], measured.get(film.injury_id, ())
        )
        if length is not None:
            found[film.pk] = length
    return found


def _measured(injuries: Collection[int]) -> Mapping[int, list[Measured]]:
    found: dict[int, list[Measured]] = defaultdict(list)
    rows = Reading.objects.filter(
        film__injury__in=injuries,
        film__voided_at__isnull=True,
        film__calibration__in=CALIBRATED,
        superseded_by__isnull=True,
        ccd_injured_mm__isnull=False,
        turn=1,
    )
    for injury_id, day, view, length in rows.order_by("film__taken_on", "film_id").values_list(
        "film__injury_id", "film__taken_on", "film__view", "ccd_injured_mm"
    ):
        found[injury_id].append(Measured(day, view, float(length)))
    return found
