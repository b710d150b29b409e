"""The load of a site's clinics over the weeks to come."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest

from followup.models import Appointment, ClosedDay
from followup.selectors import load as selector
from followup.selectors.clinic_room import room_of
from followup.services import load as service
from registry.models import Person, Site
from tests import builders
from tests.builders import NOW, TODAY, booked
from tests.followup.waiting import TUESDAY, waiting

pytestmark = pytest.mark.django_db
LAST = date(2027, 5, 23)


def found(today: date = TODAY) -> selector.SiteLoad:
    return selector.site_load(builders.site(), today)


def test_each_week_holds_slots_booked_and_due_side_by_side() -> None:
    clinic = builders.clinic(slots=2)
    booked(waiting(), where=clinic)
    waiting()
    waiting()
    weeks = found().clinics[0].weeks
    assert len(weeks) == 26
    week = weeks[1]
    assert (week.name, week.slots, week.booked, week.waiting, week.due, week.over) == (
        "2026-W49", 2, 1, 2, 3, 1,
    )  # fmt: skip
    assert found().clinics[0].worst == week
    assert found().of(None) == found().clinics[0]
    assert found().of(clinic.pk) == found().clinics[0]
    assert found().of(clinic.pk + 1) is None


def test_the_weeks_go_right_across_week_53() -> None:
    builders.clinic(weekday=4)
    names = [week.name for week in found().total]
    assert names[4:7] == ["2026-W52", "2026-W53", "2027-W01"]
    assert names[-1] == "2027-W20"
    waiting(date(2027, 1, 1))
    assert {week.name: week.waiting for week in found().total if week.waiting} == {"2026-W53": 1}


def test_a_closed_day_takes_its_slots_off_and_is_named() -> None:
    builders.clinic(slots=5)
    ClosedDay.objects.create(site=builders.site(), on=date(2026, 12, 29), reason="closed")
    waiting(date(2026, 12, 29))
    load = found()
    week = load.total[5]
    assert (week.name, week.slots, week.closed) == ("2026-W53", 0, (date(2026, 12, 29),))
    assert load.nowhere == {date(2026, 12, 28): 1}
    shown = selector.shown_weeks(load, load.clinics[0])
    assert (shown[5].held, shown[6].held) == ("Tue 29 Dec: closed", "Tue 05 Jan")
    assert selector.shown_weeks(load, None)[5].nowhere == 1
    assert selector.shown_weeks(load, None)[5].held == "closed: Tue 29 Dec"


def test_the_days_of_this_week_that_are_over_hold_nothing_more() -> None:
    builders.clinic(weekday=1, slots=5)
    load = found()
    assert load.total[0].slots == 0
    assert selector.shown_weeks(load, load.clinics[0])[0].held == "Tue 24 Nov: over"


def test_public_holidays_that_nobody_closed_are_pointed_out() -> None:
    site = builders.site()
    Site.objects.filter(pk=site.pk).update(holiday_country="GB", holiday_subdivision="ENG")
    builders.clinic(weekday=4)
    days = [day for day, _ in found().open_holidays]
    assert days == [date(2026, 12, 25), date(2027, 1, 1), date(2027, 3, 26)]
    ClosedDay.objects.create(site=site, on=days[0], reason="Christmas")
    assert [day for day, _ in found().open_holidays] == days[1:]


def _slot(state: str, on: date) -> None:
    slot = booked(waiting(on), on=on, today=on)
    Appointment.objects.filter(pk=slot.pk).update(state=state)


def test_the_share_not_coming_is_that_of_the_sites_slots_whose_day_is_over() -> None:
    for days, state in ((7, "kept"), (14, "kept"), (21, "missed"), (28, "cancelled")):
        _slot(state, TODAY - timedelta(days=days))
    _slot("booked", TODAY - timedelta(days=35))
    _slot("missed", TODAY - timedelta(days=370))
    _slot("missed", TODAY)
    past = selector.past_of(builders.site().pk, TODAY)
    assert (past.absence.missed, past.absence.slots, past.unsaid) == (1, 3, 1)
    assert selector.past_of(builders.site("south").pk, TODAY).absence.slots == 0
    builders.clinic()
    waiting()
    line = selector.shown_weeks(found(), None)[1]
    assert line.expected.likely == pytest.approx(2 / 3)


def test_the_days_of_a_week_say_what_is_left_of_each() -> None:
    clinic = builders.clinic(slots=2)
    builders.clinic(weekday=3, slots=4)
    booked(waiting(), where=clinic)
    waiting()
    waiting()
    days = selector.days_of(room_of(builders.site().pk, TODAY, LAST), date(2026, 11, 30))
    assert [(day.on, day.slots, day.booked, day.waiting, day.left, day.over) for day in days] == [
        (TUESDAY, 2, 1, 2, 0, 1),
        (date(2026, 12, 3), 4, 0, 0, 4, 0),
    ]


def test_who_waits_is_listed_in_the_week_that_counts_them(coordinator: Person) -> None:
    builders.clinic()
    ahead, past = waiting(), waiting(TODAY - timedelta(days=2), after=20)
    lost = waiting(TODAY - timedelta(days=2), after=3)
    later = waiting(TUESDAY + timedelta(weeks=1))
    waiting(at=builders.site("south"))
    room = room_of(builders.site().pk, TODAY, LAST)

    def listed(monday: date, who: Person = coordinator) -> list[Any]:
        return list(selector.waiting_in(who, builders.site(), monday, room))

    assert listed(date(2026, 11, 23)) == [lost]
    assert listed(date(2026, 11, 30)) == [past, ahead]
    assert listed(date(2026, 12, 7)) == [later]
    assert listed(date(2026, 11, 30), builders.person("otto", south="coordinator")) == []


def test_a_line_offers_the_clinic_days_with_room_nearest_to_due_first() -> None:
    builders.clinic(slots=1)
    review = waiting(TUESDAY, before=7, after=21)
    waiting(TUESDAY + timedelta(weeks=1))
    (line,) = selector.move_lines([review], room_of(builders.site().pk, TODAY, LAST))
    assert line.options == (
        ("2026-12-15", "Tue 15 Dec 2026 (1 free)"),
        ("2026-12-22", "Tue 22 Dec 2026 (1 free)"),
    )
    assert not line.passed
    assert line.name == str(review.procedure.injury.patient.identity)


def test_a_proposal_reads_as_sentences(coordinator: Person) -> None:
    builders.clinic(slots=1)
    mine = [waiting(TUESDAY, before=7, after=8) for _ in range(4)]
    proposal = service.propose(site=builders.site(), by=coordinator, now=NOW, today=TODAY)
    assert selector.open_proposal(builders.site()) == proposal
    assert selector.summary_of(proposal) == (
        "4 reviews are due and not booked in the 8 weeks; 1 of them moves, the others stay on their "
        "day. For 2 no clinic day inside the window has room."
    )
    assert selector.proposal_shortages(proposal) == [
        (
            "4 reviews can be seen only on the 2 clinic days from Tue 01 Dec to Tue 08 Dec 2026 "
            "(2026-W49, 2026-W50), which have 2 free slots: 2 too few. Add slots there, or book some of "
            "them outside their window."
        )
    ]
    days = {day.on: day for day in selector.proposal_days(proposal)}
    first = days[TUESDAY]
    assert (first.before, first.after, first.over_before, first.over_after) == (4, 3, 3, 2)
    assert days[date(2026, 12, 8)].after == 1
    lines = list(selector.lines_of(proposal))
    assert [line.outcome for line in lines] == ["no_room", "no_room", "open"]
    assert {line.review for line in lines} <= set(mine)


def test_windows_that_hold_no_clinic_day_are_said_to_have_none(coordinator: Person) -> None:
    waiting(TUESDAY)
    proposal = service.propose(site=builders.site(), by=coordinator, now=NOW, today=TODAY)
    assert selector.proposal_shortages(proposal) == [
        "1 cannot be placed: no clinic day with a free slot is left inside the window."
    ]


def test_the_load_costs_the_same_for_few_and_for_many(counted: Callable[[], Any]) -> None:
    clinic = builders.clinic()
    booked(waiting(), where=clinic)
    site = builders.site()
    with counted() as few:
        selector.site_load(site, TODAY)
    for n in range(4):
        builders.clinic(weekday=n)
        waiting()
    with counted() as more:
        selector.site_load(site, TODAY)
    assert len(few) == len(more) == 7
