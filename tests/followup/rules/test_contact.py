"""The policy of contact: the next try, when it is enough, and when nobody is to be tried."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from followup.rules.contact import (
    MEANS,
    NextTry,
    Policy,
    Reach,
    Try,
    Verdict,
    available_means,
    next_try,
)

DAY = date(2026, 11, 2)
ALL = frozenset(MEANS)
POLICY = Policy()


def calls(*days: int, means: str = "phone", outcome: str = "no_answer") -> tuple[Try, ...]:
    return tuple(Try(DAY + timedelta(days=day), means, outcome) for day in days)


def ask(reach: Reach, on: int = 0, policy: Policy = POLICY) -> NextTry:
    return next_try(policy, reach, DAY + timedelta(days=on))


def test_nobody_was_tried_yet() -> None:
    assert ask(Reach(ALL)) == NextTry(Verdict.TRY, "phone call now", "phone", DAY)


def test_the_preferred_means_comes_first() -> None:
    assert ask(Reach(ALL, preferred="email")).means == "email"


def test_a_means_that_is_refused_or_not_there_is_not_proposed() -> None:
    reach = Reach(frozenset({"phone", "text", "letter"}), refused=frozenset({"phone"}))
    assert ask(reach).means == "text"


def test_two_tries_lie_some_days_apart() -> None:
    said = ask(Reach(ALL, tries=calls(0)), on=1)
    assert said.from_on == DAY + timedelta(days=2)
    assert said.words == (
        "phone call from 04 Nov 2026, after 1 try; the last, by phone call, on 02 Nov 2026"
    )


def test_after_three_unanswered_calls_another_route_is_proposed() -> None:
    assert ask(Reach(ALL, tries=calls(0, 2)), on=5).means == "phone"
    said = ask(Reach(ALL, tries=calls(0, 2, 4)), on=7)
    assert said.means == "text"
    assert said.words.startswith("text message now, after 3 tries")


def test_with_a_phone_alone_it_goes_on_ringing() -> None:
    reach = Reach(frozenset({"phone"}), tries=calls(0, 2, 4))
    assert ask(reach, on=7).means == "phone"


def test_a_wrong_number_is_wrong_for_texts_too() -> None:
    reach = Reach(ALL, tries=calls(0, outcome="wrong_contact"))
    assert ask(reach, on=3).means == "email"


def test_when_everything_is_wrong_the_patient_cannot_be_reached() -> None:
    reach = Reach(frozenset({"phone", "text"}), tries=calls(0, outcome="wrong_contact"))
    said = ask(reach, on=3)
    assert said.verdict is Verdict.CANNOT
    assert said.words == "every number and address that may be used is wrong"


def test_six_tries_by_two_means_over_two_weeks_are_enough() -> None:
    tries = (*calls(0, 2, 4), *calls(7, 9, 14, means="text"))
    said = ask(Reach(ALL, tries=tries), on=14)
    assert said.verdict is Verdict.CANNOT
    assert said.words == "6 tries in 14 days without an answer (phone call, text message)"


@pytest.mark.parametrize(
    "tries",
    [
        (*calls(0, 2, 4), *calls(7, 14, means="text")),
        calls(0, 2, 4, 6, 9, 14),
        (*calls(0, 2, 4), *calls(7, 9, 13, means="text")),
    ],
    ids=["five tries", "one means", "thirteen days"],
)
def test_less_than_the_policy_is_not_enough(tries: tuple[Try, ...]) -> None:
    assert ask(Reach(ALL, tries=tries), on=15).verdict is Verdict.TRY


def test_tries_of_long_ago_do_not_count() -> None:
    tries = (*calls(0, 2, 4), *calls(7, 9, 14, means="text"))
    assert ask(Reach(ALL, tries=tries), on=104).verdict is Verdict.CANNOT
    assert ask(Reach(ALL, tries=tries), on=105).words == "phone call now"
    again = (*tries, *calls(105))
    assert "after 1 try" in ask(Reach(ALL, tries=again), on=106).words


def test_nobody_need_use_more_means_than_there_are() -> None:
    reach = Reach(frozenset({"letter"}), tries=calls(0, 2, 4, 6, 9, 14, means="letter"))
    assert ask(reach, on=15).verdict is Verdict.CANNOT


def test_the_last_try_waits_until_the_days_of_the_policy_are_over() -> None:
    tries = (*calls(0, 2, 4), *calls(6, 8, means="text"))
    assert ask(Reach(ALL, tries=tries), on=9).from_on == DAY + timedelta(days=14)


def test_the_last_tries_use_the_means_that_is_still_lacking() -> None:
    policy = Policy(attempts=3, means=2, over_days=0, calls_before_other_route=9)
    assert ask(Reach(ALL, tries=calls(0, 2)), on=5, policy=policy).means == "text"


def test_who_was_heard_of_is_not_rung_the_same_day() -> None:
    said = ask(Reach(ALL, heard_on=DAY))
    assert said.words == "phone call from 04 Nov 2026; last heard of on 02 Nov 2026"


@pytest.mark.parametrize(
    ("reach", "words"),
    [
        (Reach(ALL, opted_out=True), "does not want to be contacted"),
        (Reach(ALL, declined_on=DAY), "said on 02 Nov 2026 that they do not want to come"),
        (Reach(ALL, refused=ALL), "has refused every means that there is"),
    ],
    ids=["opted out", "declined", "refused"],
)
def test_who_does_not_want_it_is_not_tried(reach: Reach, words: str) -> None:
    assert ask(reach) == NextTry(Verdict.STOPPED, words)


def test_a_number_that_is_not_recorded_is_looked_for_and_nobody_is_lost_for_it() -> None:
    said = ask(Reach(frozenset()))
    assert (said.verdict, said.means) == (Verdict.TRY, "")
    assert said.words == "look for a number or an address: none is recorded"


def test_means_come_from_what_is_recorded() -> None:
    assert available_means(phone="1", email="", address=" ", others=["", ""]) == {"phone", "text"}
    found = available_means(phone="", email="a@b", address="Saltgate", others=["", "2"])
    assert found == {"email", "letter", "other_person"}


@given(
    available=st.frozensets(st.sampled_from(MEANS), min_size=1),
    preferred=st.sampled_from(MEANS[:4]),
    policy=st.builds(
        Policy,
        attempts=st.integers(2, 8),
        means=st.integers(1, 2),
        over_days=st.integers(0, 40),
        days_between=st.integers(0, 9),
        calls_before_other_route=st.integers(1, 5),
    ),
)
def test_following_the_proposals_ends_as_the_policy_says(
    available: frozenset[str], preferred: str, policy: Policy
) -> None:
    tries: list[Try] = []
    today = DAY
    while len(tries) <= policy.attempts:
        said = next_try(policy, Reach(available, preferred, tries=tuple(tries)), today)
        if said.verdict is not Verdict.TRY:
            break
        assert said.means in available
        assert said.from_on is not None
        if tries:
            assert (said.from_on - tries[-1].on).days >= policy.days_between
        today = max(today, said.from_on)
        tries.append(Try(today, said.means, "no_answer"))
    assert said.verdict is Verdict.CANNOT
    assert len(tries) == policy.attempts
    assert len({one.means for one in tries}) >= min(policy.means, len(available))
    assert (tries[-1].on - tries[0].on).days >= policy.over_days
