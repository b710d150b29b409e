from dataclasses import replace
from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules.dispatch import Dispatch, Recipient, may_go

NOON = Recipient(
    status="active",
    contact_opted_out=False,
    refused_means=(),
    has_address=True,
    local_now=datetime(2026, 11, 25, 12, 0, tzinfo=UTC),
)


def test_a_message_goes_by_day() -> None:
    assert may_go(NOON, "email") == Dispatch(go=True, never=False, reason="")


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
    at_clock = replace(NOON, local_now=datetime.combine(NOON.local_now, clock, tzinfo=UTC))
    verdict = may_go(at_clock, "email")
    assert verdict.go is goes
    assert not verdict.never


def test_the_night_is_that_of_the_site() -> None:
    moment = datetime(2026, 7, 1, 20, 30, tzinfo=UTC)
    local = moment.astimezone(ZoneInfo("Europe/London"))
    assert may_go(replace(NOON, local_now=moment), "email").go
    assert not may_go(replace(NOON, local_now=local), "email").go


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        (replace(NOON, status="died"), "follow-up has ended (died)"),
        (replace(NOON, status="withdrawn"), "follow-up has ended (withdrawn)"),
        (replace(NOON, status="moved"), "follow-up has ended (moved)"),
        (replace(NOON, contact_opted_out=True), "does not want to be contacted"),
        (replace(NOON, refused_means=("email",)), "refused contact by email"),
        (replace(NOON, has_address=False), "no address for email"),
    ],
)
def test_some_messages_never_go(changed: Recipient, says: str) -> None:
    verdict = may_go(changed, "email")
    assert (verdict.go, verdict.never) == (False, True)
    assert says in verdict.reason


def test_refusing_one_means_leaves_the_others() -> None:
    assert may_go(replace(NOON, refused_means=("sms",)), "email").go


@given(
    status=st.sampled_from(["died", "withdrawn", "moved"]),
    moment=st.datetimes(timezones=st.just(UTC)),
    opted_out=st.booleans(),
)
def test_nothing_ever_goes_to_somebody_whose_follow_up_has_ended(
    status: str, moment: datetime, *, opted_out: bool
) -> None:
    who = replace(NOON, status=status, local_now=moment, contact_opted_out=opted_out)
    verdict = may_go(who, "email")
    assert verdict.never
    assert not verdict.go
