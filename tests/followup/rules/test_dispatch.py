from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules.dispatch import (
    Dispatch,
    Policy,
    Quiet,
    Recipient,
    choose_means,
    day_under_caps,
    end_of_quiet,
    first_moment,
    may_go,
)

LONDON = ZoneInfo("Europe/London")
NOON = Recipient(
    status="active",
    contact_opted_out=False,
    preferred_means="email",
    refused_means=(),
    addresses=("email", "text", "letter"),
    local_now=datetime(2026, 11, 25, 12, 0, tzinfo=LONDON),
)
BY_MAIL = Policy()
BY_ALL = Policy(means=("email", "text", "letter"))
TODAY = NOON.local_now.date()


def at(clock: time, day: date = TODAY) -> Recipient:
    return replace(NOON, local_now=datetime.combine(day, clock, tzinfo=LONDON))


def test_a_message_goes_by_day() -> None:
    assert may_go(NOON, BY_MAIL) == Dispatch("email")


@pytest.mark.parametrize(
    ("clock", "goes"),
    [
        (time(0, 0), False),
        (time(7, 59, 59), False),
        (time(8, 0), True),
        (time(20, 59, 59), True),
        (time(21, 0), False),
        (time(21, 30), False),
    ],
)
def test_nothing_goes_at_night_and_it_is_only_put_off(clock: time, *, goes: bool) -> None:
    verdict = may_go(at(clock), BY_MAIL)
    assert verdict.go is goes
    assert not verdict.never


@pytest.mark.parametrize(
    ("moment", "morning"),
    [
        # London keeps UTC in winter and is an hour ahead in summer.
        ("2026-11-25 21:30", "2026-11-26 08:00Z"),
        ("2026-11-26 03:00", "2026-11-26 08:00Z"),
        ("2026-07-01 21:30", "2026-07-02 07:00Z"),
        # Clocks go forward on 29 March and back on 25 October 2026, both at 01:00 UTC.
        ("2026-03-28 22:00", "2026-03-29 07:00Z"),
        ("2026-10-24 22:00", "2026-10-25 08:00Z"),
    ],
)
def test_what_is_put_off_goes_at_eight_by_the_clock_on_the_wall(moment: str, morning: str) -> None:
    local = datetime.fromisoformat(moment).replace(tzinfo=LONDON)
    verdict = may_go(replace(NOON, local_now=local), BY_MAIL)
    assert verdict.until == datetime.fromisoformat(morning)


def test_an_end_that_the_clocks_leave_out_is_taken_an_hour_later() -> None:
    quiet = Quiet(time(22), time(1, 30))
    local = datetime(2026, 3, 28, 23, 0, tzinfo=LONDON)
    end = end_of_quiet(local, quiet)
    assert end == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)
    assert end.astimezone(LONDON).time() == time(2, 30)


def test_an_hour_that_comes_twice_is_quiet_twice() -> None:
    quiet = Quiet(time(22), time(1, 30))
    second = datetime(2026, 10, 25, 1, 10, fold=1, tzinfo=LONDON)
    assert end_of_quiet(second, quiet) == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)


ZONES = ["Europe/London", "Europe/Berlin", "Australia/Lord_Howe", "America/St_Johns", "Asia/Tokyo"]
CLOCKS = st.times().map(lambda clock: clock.replace(second=0, microsecond=0))


@given(
    minute=st.integers(0, 3 * 365 * 24 * 60),
    zone=st.sampled_from(ZONES),
    starts=CLOCKS,
    ends=CLOCKS,
)
def test_the_end_of_the_quiet_hours_is_ahead_and_not_quiet_itself(
    minute: int, zone: str, starts: time, ends: time
) -> None:
    moment = datetime(2025, 1, 1, tzinfo=UTC) + timedelta(minutes=minute)
    quiet = Quiet(starts, ends)
    local = moment.astimezone(ZoneInfo(zone))
    if not quiet.holds(local.time()):
        return
    end = end_of_quiet(local, quiet)
    assert moment < end <= moment + timedelta(hours=25)
    # Where clocks change, the wall may have jumped over the end, into the next quiet hours at most.
    wall = end.astimezone(ZoneInfo(zone))
    assert wall.time().replace(tzinfo=None) == ends or wall.utcoffset() != local.utcoffset()


def test_equal_ends_mean_no_quiet_hours() -> None:
    assert not any(Quiet(time(8), time(8)).holds(time(hour)) for hour in range(24))


def test_quiet_hours_may_lie_within_a_day() -> None:
    siesta = Quiet(time(12), time(14))
    assert [siesta.holds(time(hour)) for hour in (11, 12, 13, 14)] == [False, True, True, False]
    verdict = may_go(at(time(13)), Policy(quiet={"email": siesta}))
    assert verdict.until == datetime(2026, 11, 25, 14, 0, tzinfo=UTC)


def test_each_means_has_its_own_quiet_hours() -> None:
    policy = Policy(means=("email", "text"), quiet={"email": Quiet(time(0), time(0))})
    assert may_go(at(time(23)), policy).go
    assert not may_go(replace(at(time(23)), preferred_means="text"), policy).go


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        (replace(NOON, status="died"), "follow-up has ended (died)"),
        (replace(NOON, status="withdrawn"), "follow-up has ended (withdrawn)"),
        (replace(NOON, status="moved"), "follow-up has ended (moved)"),
        (replace(NOON, contact_opted_out=True), "does not want to be contacted"),
        (replace(NOON, refused_means=("email",)), "refused contact by e-mail"),
        (replace(NOON, addresses=()), "no address for e-mail"),
    ],
)
def test_some_messages_never_go(changed: Recipient, says: str) -> None:
    verdict = may_go(changed, BY_MAIL)
    assert (verdict.go, verdict.never) == (False, True)
    assert says in verdict.reason


@pytest.mark.parametrize(
    ("preferred", "refused", "addresses", "taken"),
    [
        ("text", (), ("email", "text", "letter"), "text"),
        ("phone", (), ("email", "text", "letter"), "email"),
        ("text", ("text",), ("email", "text"), "email"),
        ("text", ("email",), ("email", "letter"), "letter"),
        ("letter", (), ("text",), "text"),
    ],
)
def test_the_preferred_means_comes_first_and_then_what_is_open(
    preferred: str, refused: Sequence[str], addresses: Sequence[str], taken: str
) -> None:
    to = replace(NOON, preferred_means=preferred, refused_means=refused, addresses=addresses)
    assert choose_means(to, BY_ALL) == (taken, "")


def test_it_says_of_each_means_why_it_is_closed() -> None:
    to = replace(NOON, refused_means=("text",), addresses=("text",))
    assert choose_means(to, BY_ALL) == (
        "",
        "no address for e-mail; the patient refused contact by text message; no address for letter",
    )
    assert choose_means(NOON, Policy(means=())) == ("", "the site sends no messages")


def test_a_second_message_of_a_day_goes_the_next_morning() -> None:
    verdict = may_go(replace(NOON, sent_on=[TODAY]), BY_MAIL)
    assert verdict.until == datetime(2026, 11, 26, 8, 0, tzinfo=UTC)
    assert "enough messages" in verdict.reason


def test_the_counts_hold_back_nothing_about_a_slot() -> None:
    assert may_go(replace(NOON, sent_on=[TODAY] * 5), BY_MAIL, capped=False).go


def test_a_day_without_quiet_hours_begins_at_midnight() -> None:
    none = Quiet(time(0), time(0))
    assert first_moment(date(2026, 7, 2), none, NOON.local_now) == datetime(
        2026, 7, 1, 23, 0, tzinfo=UTC
    )


DAYS = st.lists(st.integers(-8, 0).map(lambda ahead: TODAY + timedelta(days=ahead)), max_size=30)


@given(sent_on=DAYS, a_day=st.integers(1, 3), more=st.integers(0, 4))
def test_no_day_and_no_week_ever_holds_more_than_the_site_allows(
    sent_on: list[date], a_day: int, more: int
) -> None:
    policy = Policy(most_a_day=a_day, most_a_week=a_day + more)
    sent = list(sent_on)
    kept = [day for day in sent if day > TODAY - timedelta(days=7)]
    if len(kept) > policy.most_a_week or any(kept.count(day) > a_day for day in kept):
        return
    for _ in range(12):
        day = day_under_caps(sent, TODAY, policy)
        if day > TODAY + timedelta(days=6):
            break
        sent.append(day)
    for day in set(sent):
        if day >= TODAY:
            week = [one for one in sent if day - timedelta(days=7) < one <= day]
            assert sent.count(day) <= a_day
            assert len(week) <= policy.most_a_week


@given(
    status=st.sampled_from(["died", "withdrawn", "moved"]),
    moment=st.datetimes(timezones=st.just(UTC)),
    opted_out=st.booleans(),
)
def test_nothing_ever_goes_to_somebody_whose_follow_up_has_ended(
    status: str, moment: datetime, *, opted_out: bool
) -> None:
    who = replace(NOON, status=status, local_now=moment, contact_opted_out=opted_out)
    verdict = may_go(who, BY_ALL, capped=False)
    assert verdict.never
    assert not verdict.go
