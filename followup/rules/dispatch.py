"""May a message go to a patient now, and by which means?"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta

MEANS_IN_WORDS = {"email": "e-mail", "text": "text message", "letter": "letter"}
WEEK_DAYS = 7


@dataclass(frozen=True)
class Quiet:
    """The hours, by the site's clock, in which nothing goes by one means; equal ends mean none."""

    starts: time = time(21, 0)
    ends: time = time(8, 0)

    def holds(self, clock: time) -> bool:
        """Say whether a time of day lies in the quiet hours; they may run over midnight."""
        if self.starts <= self.ends:
            return self.starts <= clock < self.ends
        return clock >= self.starts or clock < self.ends


@dataclass(frozen=True)
class Policy:
    """What a site sends by, when it keeps quiet, and how much one patient gets.

    The defaults follow 47 CFR 64.1200 (8 to 21 h; read as summarised by others); its one message a
    day and three a week are from memory.
    """

    means: tuple[str, ...] = ("email",)
    quiet: Mapping[str, Quiet] = field(default_factory=dict)
    most_a_day: int = 1
    most_a_week: int = 3

    def quiet_by(self, means: str) -> Quiet:
        """Return the quiet hours of a means."""
        return self.quiet.get(means, Quiet())


@dataclass(frozen=True)
class Recipient:
    """What decides whether somebody may be written to; `local_now` is in the site's zone.

    `sent_on` holds the site's day of each message that went to the patient in the last week.
    """

    status: str
    contact_opted_out: bool
    preferred_means: str
    refused_means: Collection[str]
    addresses: Collection[str]
    local_now: datetime
    sent_on: Sequence[date] = ()


@dataclass(frozen=True)
class Dispatch:
    """Go now by a means, wait until a moment (UTC), or never; with the reason in words."""

    means: str = ""
    until: datetime | None = None
    reason: str = ""

    @property
    def go(self) -> bool:
        """Say whether it may go now."""
        return bool(self.means) and self.until is None

    @property
    def never(self) -> bool:
        """Say whether it can never go."""
        return not self.means


def may_go(to: Recipient, policy: Policy, *, capped: bool = True) -> Dispatch:
    """Decide about one message: never after the end of the follow-up, at night, or too often.

    What tells of a slot that a person booked or cancelled is counted, but with `capped` off it does
    not wait for the counts: held back, it would come after the day that it is about.
    """
    if to.status != "active":
        return Dispatch(reason=f"the patient's follow-up has ended ({to.status})")
    if to.contact_opted_out:
        return Dispatch(reason="the patient does not want to be contacted")
    means, reason = choose_means(to, policy)
    if not means:
        return Dispatch(reason=reason)
    today = to.local_now.date()
    free_on = day_under_caps(to.sent_on, today, policy) if capped else today
    quiet = policy.quiet_by(means)
    if free_on > today:
        until = first_moment(free_on, quiet, to.local_now)
        return Dispatch(means, until, "the patient has had enough messages for now")
    if quiet.holds(to.local_now.time()):
        return Dispatch(means, end_of_quiet(to.local_now, quiet), "quiet hours; it goes after them")
    return Dispatch(means)


def choose_means(to: Recipient, policy: Policy) -> tuple[str, str]:
    """Return the means that a message takes and '', or '' and why each of the site's is closed.

    The patient's preferred means comes first, the others in the order of the site.
    """
    order = sorted(policy.means, key=lambda one: one != to.preferred_means)
    closed = []
    for means in order:
        words = MEANS_IN_WORDS.get(means, means)
        if means in to.refused_means:
            closed.append(f"the patient refused contact by {words}")
        elif means not in to.addresses:
            closed.append(f"no address for {words}")
        else:
            return means, ""
    return "", "; ".join(closed) or "the site sends no messages"


def day_under_caps(sent_on: Sequence[date], today: date, policy: Policy) -> date:
    """Return the first day, from today on, on which one more message keeps the counts.

    A week is any seven days in a row.
    """
    for ahead in range(WEEK_DAYS + 1):
        day = today + timedelta(days=ahead)
        that_day = sum(1 for one in sent_on if one == day)
        week = sum(1 for one in sent_on if day - timedelta(days=WEEK_DAYS) < one <= day)
        if that_day < policy.most_a_day and week < policy.most_a_week:
            return day
    return today + timedelta(days=WEEK_DAYS)


def first_moment(day: date, quiet: Quiet, local_now: datetime) -> datetime:
    """Return the first moment (UTC) of a day in the zone of `local_now` that is not quiet."""
    start = datetime.combine(day, time(0), tzinfo=local_now.tzinfo)
    return end_of_quiet(start, quiet) if quiet.holds(time(0)) else start.astimezone(UTC)


def end_of_quiet(local: datetime, quiet: Quiet) -> datetime:
    """Return when (UTC) the quiet hours that hold at a local moment end.

    The end is a time on the wall: where clocks change in the night it stays that time, and one
    that the change leaves out is taken as much later as the clocks jumped.
    """
    day = local.date()
    if quiet.starts > quiet.ends and local.time() >= quiet.starts:
        day += timedelta(days=1)
    # Where clocks went back, the wall shows an hour twice; whoever is in its second half stays there.
    end = datetime.combine(day, quiet.ends, tzinfo=local.tzinfo).replace(fold=local.fold)
    return end.astimezone(UTC)
