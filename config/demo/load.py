"""Writing an invented service into an empty database."""

from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from datetime import date, datetime
from itertools import islice

from django.db import connection

from analytics.simulation import cohort, setting
from analytics.simulation.records import SimCase
from config.demo import (
    crowded,
    drawn,
    letters,
    losses,
    meetings,
    noticed,
    outbox,
    protocols,
    sent_in,
    twice,
    watched,
)
from config.demo.asked import ask_at_home
from config.demo.batch import Batch
from config.demo.decisions import last_days
from config.demo.enrolled import Known, enrol
from config.demo.followed import Diary, FollowUp
from config.demo.reaching import reach
from config.demo.replied import write_back
from config.demo.schedule import Protocols
from config.demo.staff import Staff, open_service
from followup.services import completion, hardware
from followup.services.planning import calendar_of
from registry.errors import BadInput
from registry.models import ConstructType, Patient, Person, Site
from registry.services import audit, records

CASES_AT_ONCE = 200
REASON = "invented demo data"


@dataclass(frozen=True)
class Wanted:
    """The size of an invented service and the seed that it grows from."""

    procedures: int = setting.DEMO_PROCEDURES
    sites: int = setting.DEMO_SITES
    seed: int = setting.DEMO_SEED
    years: int = setting.DEMO_YEARS


def load(
    wanted: Wanted,
    *,
    now: datetime,
    today: date,
    whole: bool,
    progress: Callable[[int], None] = lambda cases: None,
) -> int:
    """Write an invented service into a database that has none; return how many rows it took.

    `whole` writes it in one transaction, all of it or nothing, and seals the trail. Otherwise every batch of cases is
    one, so that memory stays small. `progress` is told how many cases were written since last time.
    Raises BadInput where there are sites, people or patients already, or a size makes no sense.
    """
    _refuse_others()
    cases = simulated(wanted, today)
    outer: AbstractContextManager[None] = (
        records.change(by=None, reason=REASON) if whole else nullcontext()
    )
    with outer:
        with records.change(by=None, reason=REASON):
            staff = open_service(wanted.sites, years=wanted.years, now=now, today=today)
            if whole:
                protocols.write_versions(staff, now=now, today=today)
        written = _write(cases, staff, now=now, today=today, progress=progress)
        # What the next night would raise is there from the start.
        hardware.raise_planned_removals(by=staff.coordinator, now=now, today=today)
        if whole:
            last_days(by=staff.coordinator, now=now, today=today)
            reach(staff, now=now, today=today)
            ask_at_home(staff, now=now, today=today)
            meetings.hold(staff, now=now, today=today)
        with records.change(by=None, reason=REASON):
            outbox.fill(staff, now=now)
        if whole:
            write_back(staff, now=now, today=today)
            sent_in.send(staff, now=now, today=today)
        if whole and wanted.procedures <= crowded.MOST_PROCEDURES:
            crowded.crowd(staff, now=now, today=today)
        # And so is what it would complete.
        completion.complete_attended(by=staff.coordinator, now=now)
        if whole:
            letters.write(staff, now=now, today=today)
            twice.draw(staff, now=now, today=today)
            watched.watch(staff, years=wanted.years, now=now, today=today)
            losses.warn(staff, now=now, today=today)
            noticed.notify(staff, now=now, today=today)
            drawn.draw(staff, now=now, today=today)
    if whole:
        audit.seal_all()
    return written


def simulated(wanted: Wanted, until: date) -> Iterator[SimCase]:
    """Return the cases of an invented service up to a day, one by one.

    Raises BadInput for a size that makes no sense.
    """
    try:
        return cohort.generate(
            wanted.procedures,
            sites=wanted.sites,
            seed=wanted.seed,
            until=until,
            years=wanted.years,
        )
    except ValueError as fault:
        raise BadInput(str(fault)) from fault


def is_empty() -> bool:
    """Say whether nothing was set up yet: no patient, no site, nobody with a name of the demo's."""
    names = [one.username for one in setting.PEOPLE]
    return not (
        Patient.everything.exists()
        or Site.objects.exists()
        or Person.objects.filter(username__in=names).exists()
    )


def _refuse_others() -> None:
    if not is_empty():
        raise BadInput(
            "There are sites, people or patients in this database already. Invented cases go into "
            "an empty one only, so that nobody takes them for real ones."
        )
    if not ConstructType.objects.exists():
        raise BadInput("There are no construct types yet; run load_defaults first.")


def _write(
    cases: Iterable[SimCase],
    staff: Staff,
    *,
    now: datetime,
    today: date,
    progress: Callable[[int], None],
) -> int:
    follow_up = FollowUp(
        staff,
        Diary(staff.clinics),
        Protocols(),
        tuple(calendar_of(site.pk) for site in staff.sites),
        today,
    )
    known, batch, written, looked = Known(), Batch(now), 0, 0
    for some in _batches(cases):
        with records.change(by=staff.coordinator, reason=REASON):
            for case in some:
                follow_up.write(batch, case, enrol(batch, staff, known, case))
            written += batch.write()
        known.forget_rows()
        looked = _look_again(looked, written)
        progress(len(some))
    return written


def _look_again(looked: int, written: int) -> int:
    """Let PostgreSQL look at its tables whenever they have doubled, or it plans for empty ones."""
    if connection.vendor != "postgresql" or written < 2 * looked:
        return looked
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    return written


def _batches(cases: Iterable[SimCase]) -> Iterator[list[SimCase]]:
    waiting = iter(cases)
    while some := list(islice(waiting, CASES_AT_ONCE)):
        yield some
