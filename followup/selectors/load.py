"""The load of a site's clinics over the weeks to come, and who is due in one of these weeks."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import holidays
from django.db.models import Case, Count, IntegerField, Q, QuerySet, Value, When

from followup.models.calendars import Clinic
from followup.models.load import LoadLine, LoadOutcome, LoadProposal, ProposalState
from followup.models.reviews import Appointment, AppointmentState, Review
from followup.rules.attendance import PAST_MONTHS, Absence, Expected, absence, expected
from followup.rules.clinic_weeks import (
    WEEKS_SHOWN,
    Week,
    last_day,
    monday_of,
    together,
    week_name,
    weeks_from,
)
from followup.rules.windows import add_offset
from followup.selectors.clinic_room import Room, clinics_of, room_of, unbooked
from followup.selectors.visible import visible
from registry.models.sites import Site
from registry.selectors.visible import Viewer

MOST_OPTIONS = 12


@dataclass(frozen=True)
class ClinicLoad:
    """One clinic with its weeks."""

    clinic: Clinic
    weeks: tuple[Week, ...]

    @property
    def over(self) -> tuple[Week, ...]:
        """The weeks with more due than slots."""
        return tuple(week for week in self.weeks if week.over)

    @property
    def worst(self) -> Week | None:
        """The week that is most over; the earliest of several."""
        return max(self.over, key=lambda week: week.over, default=None)

    @property
    def slots(self) -> int:
        """All slots of the weeks."""
        return sum(week.slots for week in self.weeks)

    @property
    def booked(self) -> int:
        """All who are booked."""
        return sum(week.booked for week in self.weeks)

    @property
    def waiting(self) -> int:
        """All who are due and not booked yet."""
        return sum(week.waiting for week in self.weeks)


@dataclass(frozen=True)
class Past:
    """How the slots of the last months ended, and how many nobody has said anything about."""

    absence: Absence
    unsaid: int


@dataclass(frozen=True)
class SiteLoad:
    """The clinics of a site with their weeks, each alone and all together."""

    site: Site
    clinics: tuple[ClinicLoad, ...]
    total: tuple[Week, ...]
    nowhere: Mapping[date, int]
    past: Past
    open_holidays: tuple[tuple[date, str], ...]

    def of(self, clinic_id: int | None) -> ClinicLoad | None:
        """Return one clinic's load; without a key that of the clinic that is most over, if any."""
        if clinic_id is not None:
            return next((one for one in self.clinics if one.clinic.pk == clinic_id), None)
        over = [one for one in self.clinics if one.worst is not None]
        return max(over, key=lambda one: sum(week.over for week in one.over), default=None)


@dataclass(frozen=True)
class DayLoad:
    """One clinic day: slots, booked, due and not booked, and how many too many."""

    on: date
    slots: int
    booked: int
    waiting: int
    left: int

    @property
    def over(self) -> int:
        """How many more are to be seen than there are slots."""
        return max(0, self.booked + self.waiting - self.slots)


@dataclass(frozen=True)
class MoveLine:
    """One review that waits for a slot, with the days to which it may be moved."""

    review: Review
    name: str
    passed: bool
    options: tuple[tuple[str, str], ...]


def site_load(site: Site, today: date) -> SiteLoad:
    """Return the load of a site's clinics for the next 26 ISO weeks, in seven queries."""
    room = room_of(site.pk, today, last_day(today, WEEKS_SHOWN))
    mondays = weeks_from(today, WEEKS_SHOWN)
    clinics = clinics_of(site.pk).filter(is_active=True).select_related("surgeon")
    shared = {day: room.by_clinic(day) for day in room.days()}
    loads = tuple(
        ClinicLoad(one, tuple(_week(room, one, monday, shared) for monday in mondays))
        for one in clinics
    )
    total = together([load.weeks for load in loads])
    nowhere: dict[date, int] = {}
    for day, number in room.nowhere.items():
        nowhere[monday_of(day)] = nowhere.get(monday_of(day), 0) + number
    return SiteLoad(
        site, loads, tuple(total), nowhere, past_of(site.pk, today), _open_holidays(site, room)
    )


def past_of(site_id: int, today: date) -> Past:
    """Return how the slots of a site ended whose day is over, in one query."""
    since = add_offset(today, -PAST_MONTHS, "months")
    rows = Appointment.objects.filter(site_id=site_id, on__gte=since, on__lt=today).order_by()
    ended = dict(rows.values_list("state").annotate(number=Count("id")))
    missed = ended.get(AppointmentState.MISSED, 0)
    kept = ended.get(AppointmentState.KEPT, 0)
    return Past(absence(missed, missed + kept), ended.get(AppointmentState.BOOKED, 0))


def days_of(room: Room, monday: date) -> list[DayLoad]:
    """Return the clinic days of a week that are still to come."""
    week = (monday + timedelta(days=n) for n in range(7))
    return [
        DayLoad(
            day,
            room.slots(day),
            sum(room.booked.get((plan.key, day), 0) for plan in room.held_on(day)),
            room.waits(day),
            room.left(day),
        )
        for day in week
        if room.held_on(day)
    ]


def waiting_in(user: Viewer, site: Site, monday: date, room: Room) -> "QuerySet[Any]":
    """Return who waits for a slot in a week, as the week counts them, in the order of their days."""
    first, last = max(monday, room.first), monday + timedelta(days=6)
    here = Q(proposed_on__range=(first, last))
    next_day = room.next_day()
    passed = Q(proposed_on__lt=room.first)
    if next_day is not None and monday <= next_day <= last:
        here |= passed & Q(closes_on__gte=next_day)
    if monday <= room.first <= last:
        here |= passed if next_day is None else passed & Q(closes_on__lt=next_day)
    return (
        unbooked(site.pk, room.first, visible(user, Review, "see_due"))
        .filter(here)
        .select_related("step", "procedure__injury__patient__identity")
        .order_by("proposed_on", "due_on", "id")
    )


def move_lines(reviews: Sequence[Any], room: Room) -> list[MoveLine]:
    """Return the lines of one page; no query."""
    days = [(day, room.left(day)) for day in room.days()]
    with_room = [(day, left) for day, left in days if left]
    return [
        MoveLine(
            review,
            name_of(review),
            review.proposed_on < room.first,
            options_for(review, with_room),
        )
        for review in reviews
    ]


def options_for(
    review: Review, with_room: Sequence[tuple[date, int]]
) -> tuple[tuple[str, str], ...]:
    """Return the days to which a review may be moved, the nearest to due first, with their room."""
    inside = [
        (day, left)
        for day, left in with_room
        if review.opens_on <= day <= review.closes_on and day != review.proposed_on
    ]
    inside.sort(key=lambda one: (abs((one[0] - review.due_on).days), one[0]))
    return tuple(
        (day.isoformat(), f"{day:%a %d %b %Y} ({left} free)") for day, left in inside[:MOST_OPTIONS]
    )


def name_of(review: Any) -> str:
    """Return a patient's name, or the key where the name was erased."""
    identity = getattr(review.procedure.injury.patient, "identity", None)
    return str(identity) if identity is not None else str(review.procedure.injury.patient.key)


def _week(
    room: Room, clinic: Clinic, monday: date, shared: Mapping[date, Mapping[int, int]]
) -> Week:
    day = monday + timedelta(days=clinic.weekday)
    held = room.first <= day <= room.last and day not in room.closed
    booked = sum(room.booked.get((clinic.pk, monday + timedelta(days=n)), 0) for n in range(7))
    return Week(
        monday=monday,
        slots=clinic.slots if held else 0,
        booked=booked,
        waiting=shared.get(day, {}).get(clinic.pk, 0) if held else 0,
        closed=(day,) if day in room.closed else (),
    )


def _open_holidays(site: Site, room: Room) -> tuple[tuple[date, str], ...]:
    """Return the public holidays on which a clinic would be held: nobody closed the site yet."""
    if not site.holiday_country:
        return ()
    known = holidays.country_holidays(
        site.holiday_country,
        subdiv=site.holiday_subdivision or None,
        years=range(room.first.year, room.last.year + 1),
    )
    return tuple((day, name) for day, name in sorted(known.items()) if room.held_on(day))


@dataclass(frozen=True)
class ShownWeek:
    """One line of the table of weeks."""

    week: Week
    held: str
    expected: Expected
    nowhere: int

    @property
    def room(self) -> int:
        """How many slots stay free when everybody due is booked."""
        return max(0, self.week.slots - self.week.due)


@dataclass(frozen=True)
class DayChange:
    """One clinic day of a proposal: its slots, its booked, and who waits before and after."""

    on: date
    slots: int
    booked: int
    before: int
    after: int

    @property
    def over_before(self) -> int:
        """How many too many the day has now."""
        return max(0, self.booked + self.before - self.slots)

    @property
    def over_after(self) -> int:
        """How many too many it would have."""
        return max(0, self.booked + self.after - self.slots)


def shown_weeks(load: SiteLoad, only: ClinicLoad | None) -> list[ShownWeek]:
    """Return the lines of the table for one clinic, or for all of them together."""
    weeks = only.weeks if only is not None else load.total
    return [
        ShownWeek(
            week,
            _held(week, only),
            expected(week.due, load.past.absence),
            0 if only is not None else load.nowhere.get(week.monday, 0),
        )
        for week in weeks
    ]


def _held(week: Week, only: ClinicLoad | None) -> str:
    if only is None:
        closed = ", ".join(f"{day:%a %d %b}" for day in week.closed)
        return f"closed: {closed}" if closed else ""
    day = week.monday + timedelta(days=only.clinic.weekday)
    if week.closed:
        return f"{day:%a %d %b}: closed"
    return f"{day:%a %d %b}" if week.slots else f"{day:%a %d %b}: over"


def open_proposal(site: Site) -> LoadProposal | None:
    """Return the proposal of a site that nobody decided on yet, if there is one."""
    rows = LoadProposal.objects.filter(site=site, state=ProposalState.PROPOSED)
    return rows.select_related("made_by").first()


def lines_of(proposal: LoadProposal) -> "QuerySet[LoadLine]":
    """Return the lines of a proposal with what they show, those that need a look first."""
    looks = Case(
        When(outcome__in=[LoadOutcome.NO_ROOM, LoadOutcome.LEFT_ALONE], then=Value(0)),
        default=Value(1),
        output_field=IntegerField(),
    )
    return (
        proposal.lines.annotate(looks=looks)
        .select_related("review__step", "review__procedure__injury__patient__identity")
        .order_by("looks", "from_on", "to_on", "id")
    )


def summary_of(proposal: LoadProposal) -> str:
    """Say what a proposal would do, or has done."""
    counts = dict(proposal.lines.order_by().values_list("outcome").annotate(number=Count("id")))
    nowhere = counts.get(LoadOutcome.NO_ROOM, 0)
    to_move = sum(counts.values()) - nowhere
    said = (
        f"{proposal.considered} review{' is' if proposal.considered == 1 else 's are'} due and not "
        f"booked in the {proposal.weeks} weeks; "
        f"{to_move} of them move{'s' if to_move == 1 else ''}, the others stay on their day."
    )
    if not nowhere:
        return f"{said} Nobody is beyond the slots then."
    return f"{said} For {nowhere} no clinic day inside the window has room."


def moves_anybody(proposal: LoadProposal) -> bool:
    """Say whether there is anything to apply: somebody who would come on another day."""
    return proposal.lines.exclude(outcome=LoadOutcome.NO_ROOM).exists()


def proposal_days(proposal: LoadProposal) -> list[DayChange]:
    """Return the clinic days of a proposal, before and after."""
    return [DayChange(date.fromisoformat(on), *numbers) for on, *numbers in proposal.days]


def proposal_shortages(proposal: LoadProposal) -> list[str]:
    """Say which days are too few, for how many, and by how much."""
    return [
        _shortage([date.fromisoformat(day) for day in days], free, reviews)
        for days, free, reviews in proposal.shortages
    ]


def _shortage(days: list[date], free: int, reviews: int) -> str:
    if not days:
        return (
            f"{reviews} cannot be placed: no clinic day with a free slot is left inside the window."
        )
    span = f"{days[0]:%a %d %b %Y}"
    if len(days) > 1:
        span = f"the {len(days)} clinic days from {days[0]:%a %d %b} to {days[-1]:%a %d %b %Y}"
    weeks = sorted({week_name(day) for day in days})
    return (
        f"{reviews} reviews can be seen only on {span} ({', '.join(weeks)}), which have {free} free "
        f"slots: {reviews - free} too few. Add slots there, or book some of them outside their window."
    )
