"""The weeks of a clinic: its slots, who is booked, and who is due and not booked yet."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

WEEKS_SHOWN = 26
WEEKS_LEVELLED = 8


@dataclass(frozen=True)
class ClinicPlan:
    """A clinic as planned: on one weekday (0 = Monday), so many slots, its surgeon if named."""

    key: int
    weekday: int
    slots: int
    surgeon: int | None = None


@dataclass(frozen=True)
class Week:
    """One ISO week of a clinic, or of several together: what it holds and what is asked of it."""

    monday: date
    slots: int
    booked: int
    waiting: int
    closed: tuple[date, ...] = ()

    @property
    def due(self) -> int:
        """Everybody who is to be seen: booked, and due without a slot."""
        return self.booked + self.waiting

    @property
    def over(self) -> int:
        """How many more are to be seen than there are slots."""
        return max(0, self.due - self.slots)

    @property
    def name(self) -> str:
        """The week's number in its ISO year, for example 2026-W53."""
        return week_name(self.monday)

    @property
    def sunday(self) -> date:
        """The last day."""
        return self.monday + timedelta(days=6)


def week_name(day: date) -> str:
    """Return the ISO week of a day; its year is that of the week's Thursday."""
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02d}"


def monday_of(day: date) -> date:
    """Return the first day of the ISO week."""
    return day - timedelta(days=day.weekday())


def weeks_from(day: date, number: int) -> list[date]:
    """Return the Mondays of so many ISO weeks, beginning with the week of a day."""
    first = monday_of(day)
    return [first + timedelta(weeks=n) for n in range(number)]


def last_day(day: date, number: int) -> date:
    """Return the last day of so many ISO weeks, the first being that of a day."""
    return monday_of(day) + timedelta(weeks=number, days=-1)


def days_held(
    plan: ClinicPlan, closed: Collection[date], first: date, last: date
) -> Iterator[date]:
    """Yield the days from first to last on which a clinic is held."""
    day = first + timedelta(days=(plan.weekday - first.weekday()) % 7)
    while day <= last:
        if day not in closed:
            yield day
        day += timedelta(weeks=1)


def share_out(
    held: Sequence[ClinicPlan], free: Mapping[int, int], waiting: Mapping[int | None, int]
) -> dict[int, int]:
    """Say which of a day's clinics see those who are proposed for it, by the clinics' keys.

    `held` are the clinics of the day in their order, `free` their slots that are not booked,
    `waiting` how many are proposed by their operating surgeon. A surgeon's own patients fill the
    surgeon's own clinic; those without room there, and everybody else, fill the other clinics in
    order; who is then too many stays in the surgeon's own clinic, or else in the day's first. So a
    clinic is over only where the whole day is.
    """
    given = {plan.key: 0 for plan in held}
    if not held:
        return given
    over: dict[int | None, int] = {}
    for surgeon in sorted(waiting, key=lambda one: (one is None, one or 0)):
        own = [plan for plan in held if surgeon is not None and plan.surgeon == surgeon]
        over[surgeon] = _fill(own, free, given, waiting[surgeon])
    for surgeon, number in over.items():
        rest = _fill(held, free, given, number)
        own = [plan for plan in held if surgeon is not None and plan.surgeon == surgeon]
        given[(own or held)[0].key] += rest
    return given


def _fill(
    clinics: Sequence[ClinicPlan], free: Mapping[int, int], given: dict[int, int], number: int
) -> int:
    """Fill clinics in order while they have room; return how many are left."""
    for plan in clinics:
        taken = max(0, min(number, free.get(plan.key, 0) - given[plan.key]))
        given[plan.key] += taken
        number -= taken
    return number


def together(weeks: Sequence[Sequence[Week]]) -> list[Week]:
    """Add up the weeks of several clinics; a week that each has closed names every closed day."""
    return [
        Week(
            monday=same[0].monday,
            slots=sum(one.slots for one in same),
            booked=sum(one.booked for one in same),
            waiting=sum(one.waiting for one in same),
            closed=tuple(sorted({day for one in same for day in one.closed})),
        )
        for same in zip(*weeks, strict=True)
    ]


def in_words(name: str, weeks: Sequence[Week]) -> str:
    """Say what the figure of a clinic's weeks shows."""
    if not weeks:
        return f"{name}: no weeks are shown."
    said = (
        f"{name}, {len(weeks)} weeks from {weeks[0].name} to {weeks[-1].name}: "
        f"{sum(one.slots for one in weeks)} slots, {sum(one.booked for one in weeks)} booked, "
        f"{sum(one.waiting for one in weeks)} due and not booked yet."
    )
    over = [one for one in weeks if one.over]
    if not over:
        return f"{said} No week has more due than slots."
    listed = ", ".join(f"{one.name} by {one.over}" for one in over)
    return f"{said} More due than slots in {len(over)} of them: {listed}."
