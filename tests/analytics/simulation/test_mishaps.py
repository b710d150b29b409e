"""What goes wrong or comes out."""

from collections import Counter
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from analytics.simulation import mishaps, truth
from analytics.simulation.draws import Draws
from analytics.simulation.mishaps import Fate
from analytics.simulation.truth import END_DAY, TRUTH, YEAR_DAYS
from followup.models.complications import Complication
from followup.models.hardware import HardwareState

MANY = 4000
OPERATED = date(2024, 1, 10)
FATES = {
    code: [mishaps.fate(Draws(8, n), code, nonunion=False, stays=False) for n in range(MANY)]
    for code in ("LP", "HP")
}
PLAIN = replace(
    FATES["LP"][0],
    loss_day=None,
    revision_day=None,
    event_day=None,
    nonunion=False,
    symptomatic=False,
    removal_day=None,
    ending="active",
    ending_day=None,
)


def share(found: list[bool]) -> float:
    return sum(found) / len(found)


@pytest.mark.parametrize("code", FATES)
def test_fates_are_drawn_from_the_stated_rates(code: str) -> None:
    known, drawn = TRUTH[code], FATES[code]
    losses = [one.loss_day is not None for one in drawn]
    assert share(losses) == pytest.approx(known.loss_24m, abs=0.025)
    events = [one.event_day is not None for one in drawn]
    assert share(events) == pytest.approx(known.complication_12m, abs=0.03)
    assert share([one.symptomatic for one in drawn]) == pytest.approx(known.symptomatic, abs=0.03)
    endings = Counter(one.ending for one in drawn)
    for name, wanted in mishaps.ENDINGS.items():
        assert endings[name] / MANY == pytest.approx(wanted, abs=0.01)


def test_hooks_come_out_as_planned_and_other_plates_when_they_hurt() -> None:
    hooks = [one.removal_day for one in FATES["HP"]]
    out = share([day is not None for day in hooks])
    assert out == pytest.approx(TRUTH["HP"].planned_removal, abs=0.02)
    assert min(day for day in hooks if day is not None) >= mishaps.HOOK_OPENS_DAYS
    for one in FATES["LP"]:
        assert one.removal_day is None or one.symptomatic
    hurting = [one for one in FATES["LP"] if one.symptomatic]
    removed = share([one.removal_day is not None for one in hurting])
    assert removed == pytest.approx(truth.REMOVED_IF_SYMPTOMATIC, abs=0.05)


def test_only_what_is_lost_is_revised_and_in_the_stated_share() -> None:
    lost = [one for one in FATES["LP"] if one.loss_day is not None]
    assert all(one.revision_day is None for one in FATES["LP"] if one.loss_day is None)
    revised = [one for one in lost if one.revision_day is not None]
    assert len(revised) / len(lost) == pytest.approx(truth.REVISED_SHARE, abs=0.06)
    for one in revised:
        assert one.loss_day is not None
        assert one.revision_day is not None
        assert 14 <= one.revision_day - one.loss_day < 60


def test_the_days_of_loss_follow_the_stated_distribution() -> None:
    days = [mishaps.loss_day(Draws(3, n), 1.0) for n in range(MANY)]
    known = [day for day in days if day is not None]
    assert len(known) == MANY
    assert min(known) >= 1
    assert max(known) <= END_DAY + 1
    for code in ("LP", "TG"):
        for day in (42, 91, 183, 365):
            expected = truth.loss_by(code, day) / TRUTH[code].loss_24m
            assert share([one <= day for one in known]) == pytest.approx(expected, abs=0.025)


def test_somebody_who_stays_neither_dies_nor_leaves() -> None:
    drawn = [mishaps.fate(Draws(8, n), "LP", nonunion=False, stays=True) for n in range(500)]
    assert {(one.ending, one.ending_day) for one in drawn} == {("active", None)}


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({}, None),
        ({"event_day": 40}, 40),
        ({"loss_day": 60}, None),
        ({"loss_day": 60, "revision_day": 90}, 60),
        ({"nonunion": True}, truth.NONUNION_DAY),
        ({"nonunion": True, "event_day": 40, "loss_day": 20, "revision_day": 50}, 20),
    ],
)
def test_the_first_complication_is_the_earliest_of_what_counts(
    changes: dict[str, Any], expected: int | None
) -> None:
    assert replace(PLAIN, **changes).first_complication_day() == expected


def found(what: Fate, seen: list[int], *, revised: bool = False) -> list[dict[str, Any]]:
    last = OPERATED + timedelta(days=900)
    events = mishaps.complications(
        Draws(5, 1), what, OPERATED, seen=seen, revised=revised, last=last
    )
    return list(events)


def test_an_event_comes_to_light_only_while_the_patient_is_seen() -> None:
    what = replace(PLAIN, event_day=40, event_kind="nerve")
    assert found(what, []) == []
    assert found(what, [2, 39]) == []
    assert found(what, [2, 42])[0]["kind"] == "nerve"


def test_a_nonunion_is_found_at_a_visit_after_six_months() -> None:
    what = replace(PLAIN, nonunion=True)
    assert found(what, [2, 91, 182]) == []
    event = found(what, [2, 91, 190, 365])[0]
    assert (event["kind"], event["detected_on"]) == ("nonunion", OPERATED + timedelta(days=190))
    assert event["onset_latest"] == OPERATED + timedelta(days=truth.NONUNION_DAY)


def test_a_loss_that_is_revised_is_found_before_its_operation() -> None:
    what = replace(PLAIN, loss_day=60, revision_day=90)
    assert found(what, [2, 100]) == []
    event = found(what, [2, 87], revised=True)[0]
    assert event["kind"] in mishaps.LOSS_KIND
    assert event["detected_on"] == OPERATED + timedelta(days=87)


def test_events_are_possible_complications_in_order() -> None:
    kinds = set(dict(Complication._meta.get_field("kind").flatchoices))
    grades = set(dict(Complication._meta.get_field("grade").flatchoices))
    relations = set(dict(Complication._meta.get_field("relation").flatchoices))
    for number, what in enumerate(FATES["HP"][:600]):
        events = mishaps.complications(
            Draws(1, number),
            what,
            OPERATED,
            seen=[2, 42, 91, 365],
            revised=what.revision_day is not None and what.revision_day <= 365,
            last=OPERATED + timedelta(days=400),
        )
        days = [event["detected_on"] for event in events]
        assert days == sorted(days)
        for event in events:
            assert event["kind"] in kinds
            assert event["grade"] in grades
            assert event["relation"] in relations
            assert event["onset_latest"] is None or event["onset_latest"] <= event["detected_on"]
            ended = event["resolved_on"]
            assert ended is None or event["detected_on"] < ended <= OPERATED + timedelta(400)
    assert all(one.event_day is None or 1 <= one.event_day <= YEAR_DAYS for one in FATES["HP"])


def decision(number: int, **given: Any) -> Any:
    until = OPERATED + timedelta(days=500)
    values = {"planned": True, "raised_on": None, "removed_on": None, "until": until, **given}
    return mishaps.decision(Draws(2, number), **values)


def test_a_removal_settles_its_question() -> None:
    out = OPERATED + timedelta(days=110)
    done = decision(1, raised_on=OPERATED + timedelta(days=84), removed_on=out)
    assert (done.state, done.decided_on) == ("done", out)
    early = decision(1, raised_on=out + timedelta(days=9), removed_on=out)
    assert early.raised_on == out


def test_a_question_that_was_not_raised_yet_is_none() -> None:
    assert decision(1) is None
    assert decision(1, raised_on=OPERATED + timedelta(days=501)) is None


def test_open_questions_stand_at_every_stage_and_carry_what_it_needs() -> None:
    until = OPERATED + timedelta(days=500)
    asked = [decision(n, raised_on=OPERATED + timedelta(days=480)) for n in range(300)]
    assert {one.state for one in asked} == set(mishaps.LOOSE_ENDS)
    assert set(mishaps.LOOSE_ENDS) < set(HardwareState.values)
    for one in asked:
        assert one.decided_on is None or one.decided_on <= until
        assert (one.wish_on is not None) == (one.state == "planned")
        assert (one.deferred_until is not None) == (one.state == "deferred")
        assert bool(one.reason) == (one.state in ("deferred", "declined"))


@pytest.mark.parametrize(
    "shares",
    [mishaps.LOOSE_ENDS, mishaps.MILD, mishaps.LOSS_KIND, *(t.kinds for t in TRUTH.values())],
)
def test_shares_add_up(shares: dict[str, float]) -> None:
    assert sum(shares.values()) == pytest.approx(1)
