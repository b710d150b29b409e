"""Wanting second and third readings, taking them, and saying that they are done."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Exists, OuterRef, Q

from followup.models.films import Film, Reading
from followup.models.readings import (
    Draw,
    ReadingPolicy,
    WantedBecause,
    WantedReading,
    WantedState,
)
from followup.rules import second_readings as rules
from followup.rules.second_readings import NEAR, SECOND, THIRD, Policy
from followup.selectors.films import current_readings
from followup.selectors.reading_policies import policies
from followup.selectors.second_readings import (
    baselines_of,
    lengths_of,
    read_so_far,
    wanted_for,
)
from registry.errors import IllegalTransition, NotAllowed, StaleVersion
from registry.models.people import Person
from registry.selectors import choices
from registry.selectors.chunks import in_chunks
from registry.selectors.visible import require
from registry.services import gathering, jobs, records

NOT_DRAWN = "the policy does not draw this film any more"
AGREE = "the two readings do not lie too far apart any more"
NOT_READ = "no first reading stands any more"
# What somebody took and did not read goes back to all: common practice, no source.
KEPT_DAYS = 14
# So many of a list are tried in turn while colleagues take from it at the same moment.
AT_MOST_TRIED = 20


@dataclass(frozen=True)
class Drawn:
    """What a night has changed."""

    wanted: int
    withdrawn: int
    given_back: int


@dataclass(frozen=True)
class _Case:
    """One film with its readings and what is wanted of it."""

    film: Film
    policy: Policy
    readings: Sequence[Reading]
    rows: dict[int, WantedReading]
    baseline_mm: float | None


def heed_reading(*, reading: Reading, corrects: bool, by: Person, now: datetime) -> None:
    """Let a reading that has arrived be the one that was wanted, and want others of the film.

    To be called in the reading's transaction, with the film locked. `corrects` says that its reader
    has read the film before: such a one fulfils nothing.
    """
    film = reading.film
    site_id = film.site_id
    key = ("policy of second readings", site_id)
    policy = gathering.once(key, lambda: policies([site_id])[site_id])
    rows = {row.turn: row for row in records.under(WantedReading, film=film)}
    if policy.draw == Draw.NONE and not rows:
        return
    readings = read_so_far([film.pk])[film.pk]
    if reading.blind and not corrects:
        _fulfil(reading, rows, by=by, now=now)
    near = policy.draw == NEAR
    baseline = baselines_of([film]).get(film.pk) if near else None
    _reconcile(_Case(film, policy, readings, rows, baseline), by=by, now=now)


def take(*, wanted: WantedReading, by: Person, now: datetime, expected_version: int) -> None:
    """Let a reader take a wanted reading, so that nobody else does it; taking twice changes nothing.

    Raises StaleVersion when somebody was quicker, IllegalTransition when it is not to be had any more,
    NotAllowed for somebody who has read the film or does not read there.
    """
    require(by, "read_film", wanted.site_id)
    if Reading.objects.filter(film=wanted.film_id, reader=by).exists():
        raise NotAllowed("You have read this film before; another reader has to read it now.")
    if wanted.state != WantedState.WANTED:
        present = wanted.get_state_display().lower()
        raise IllegalTransition(str(wanted), present=present, wanted="taken")
    if wanted.reader_id == by.pk:
        return
    if wanted.reader_id is not None:
        raise IllegalTransition(str(wanted), present="taken by a colleague", wanted="taken by you")
    records.save(wanted, {"reader": by}, by=by, now=now, expected_version=expected_version)


def take_next(*, turn: int, by: Person, now: datetime) -> WantedReading | None:
    """Let a reader take the next reading of a turn; what they have taken already comes first.

    Whoever loses a race for one gets the one after it. None where nothing waits.
    """
    for row in wanted_for(by, turn)[:AT_MOST_TRIED]:
        try:
            take(wanted=row, by=by, now=now, expected_version=row.version)
        except StaleVersion:
            continue
        return row
    return None


def give_back(*, wanted: WantedReading, by: Person, now: datetime, expected_version: int) -> None:
    """Let a reader leave to others what they have taken and not read.

    Raises StaleVersion when it has changed, IllegalTransition when it is not theirs to give back.
    """
    if wanted.state != WantedState.WANTED or wanted.reader_id != by.pk:
        done = wanted.state != WantedState.WANTED
        present = wanted.get_state_display().lower() if done else "not taken by you"
        raise IllegalTransition(str(wanted), present=present, wanted="given back")
    records.save(wanted, {"reader": None}, by=by, now=now, expected_version=expected_version)


def draw_all(*, by: Person, now: datetime) -> Drawn:
    """Hold every film that was read against its site's policy; drawing twice changes nothing more.

    What a policy draws now is wanted, what it does not draw any more and nobody has taken is
    withdrawn, and what somebody took long ago and did not read goes back to all.
    """
    sites = ReadingPolicy.objects.exclude(draw=Draw.NONE).values_list("site_id", flat=True)
    open_rows = WantedReading.objects.filter(film=OuterRef("pk"), state=WantedState.WANTED)
    read = current_readings().filter(film=OuterRef("pk"))
    films = Film.objects.filter(Q(Exists(read), site__in=list(sites)) | Q(Exists(open_rows)))
    wanted = withdrawn = 0
    for chunk in in_chunks(films):
        with records.change(by=by):
            for done in _reconcile_all([film.pk for film in chunk], by=by, now=now):
                wanted += done > 0
                withdrawn += done < 0
        jobs.beat(len(chunk))
    return Drawn(wanted, withdrawn, _return_forgotten(by=by, now=now))


def _reconcile_all(film_ids: Collection[int], *, by: Person, now: datetime) -> Iterator[int]:
    # Locked, so that no reading arrives in between.
    films = list(Film.objects.select_for_update().filter(pk__in=film_ids).order_by("pk"))
    rules_of = policies({film.site_id for film in films})
    # Of whoever lets nothing of them be used, nothing is read for the sake of agreement.
    gone = Film.objects.filter(pk__in=film_ids, injury__patient__in=choices.withdrawn())
    used = set(film_ids) - set(gone.values_list("pk", flat=True))
    readings, rows = read_so_far(used), _rows(film_ids)
    near = [film for film in films if rules_of[film.site_id].draw == NEAR]
    baselines = baselines_of(near) if near else {}
    for film in films:
        case = _Case(
            film,
            rules_of[film.site_id],
            readings[film.pk],
            rows.get(film.pk, {}),
            baselines.get(film.pk),
        )
        yield from _reconcile(case, by=by, now=now)


def _return_forgotten(*, by: Person, now: datetime) -> int:
    old = WantedReading.objects.filter(
        state=WantedState.WANTED,
        reader__isnull=False,
        changed_at__lt=now - timedelta(days=KEPT_DAYS),
    )
    returned = 0
    for chunk in in_chunks(old):
        with records.change(by=by, reason=f"taken more than {KEPT_DAYS} days ago and not read"):
            for row in chunk:
                records.save(row, {"reader": None}, by=by, now=now, expected_version=row.version)
        returned += len(chunk)
        jobs.beat(len(chunk))
    return returned


def _rows(film_ids: Collection[int]) -> dict[int, dict[int, WantedReading]]:
    found: dict[int, dict[int, WantedReading]] = {}
    for row in WantedReading.objects.filter(film__in=film_ids):
        found.setdefault(row.film_id, {})[row.turn] = row
    return found


def _fulfil(
    reading: Reading, rows: Mapping[int, WantedReading], *, by: Person, now: datetime
) -> None:
    """Say of the first reading that is wanted and free for this reader that it is done."""
    for _, row in sorted(rows.items()):
        if row.state == WantedState.WANTED and row.reader_id in (None, reading.reader_id):
            done = {"state": WantedState.DONE, "reader": reading.reader}
            records.save(row, done, by=by, now=now, expected_version=row.version)
            return


def _reconcile(case: _Case, *, by: Person, now: datetime) -> list[int]:
    """Want of a film what it lacks and withdraw what it lacks no more; return 1 or -1 for each."""
    done = [_settle(case, SECOND, _why_second(case), by=by, now=now)]
    # A third is asked for by what the second said, which may be known only now.
    done.append(_settle(case, THIRD, _why_third(case), by=by, now=now))
    return [one for one in done if one]


def _why_second(case: _Case) -> str:
    if not case.readings:
        return ""
    film, first = case.film, lengths_of(case.readings[0])
    drawn = rules.is_drawn(case.policy, film.pk, film.taken_on, first, case.baseline_mm)
    return case.policy.draw if drawn else ""


def _why_third(case: _Case) -> str:
    row = case.rows.get(SECOND)
    if row is None or row.state != WantedState.DONE or not case.readings:
        return ""
    first = case.readings[0]
    second = next((one for one in case.readings[1:] if one.reader_id == row.reader_id), None)
    if second is None:
        return ""
    apart = rules.disagree(case.policy, lengths_of(first), lengths_of(second))
    return WantedBecause.DISAGREEMENT if apart else ""


def _settle(case: _Case, turn: int, because: str, *, by: Person, now: datetime) -> int:
    row = case.rows.get(turn)
    if because and row is None:
        doer = _has_read(case)
        row = WantedReading(film=case.film, site=case.film.site, turn=turn, because=because)
        row.reader, row.state = doer, WantedState.DONE if doer else WantedState.WANTED
        case.rows[turn] = records.create(row, by=by, now=now)
        return 0 if doer else 1
    if because and row is not None and row.state == WantedState.WITHDRAWN:
        _change(row, by, now, state=WantedState.WANTED, because=because, withdrawn_because="")
        return 1
    if not because and row is not None and row.state == WantedState.WANTED and not row.reader_id:
        ended = NOT_READ if not case.readings else NOT_DRAWN if turn == SECOND else AGREE
        _change(row, by, now, state=WantedState.WITHDRAWN, withdrawn_because=ended)
        return -1
    return 0


def _has_read(case: _Case) -> Person | None:
    """Return who has read the film blind, after the first reader, before anybody asked for it."""
    counted = {row.reader_id for row in case.rows.values()}
    later = (one for one in case.readings[1:] if one.blind and one.reader_id not in counted)
    found = next(later, None)
    return None if found is None else found.reader


def _change(row: WantedReading, by: Person, now: datetime, **values: Any) -> None:
    records.save(row, values, by=by, now=now, expected_version=row.version)
