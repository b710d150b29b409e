"""Second and third readings are wanted, taken, done and withdrawn; drawing twice equals once."""

from datetime import date, timedelta
from typing import Any

import pytest

from followup.models import Film, Reading, WantedReading
from followup.rules.second_readings import place_of
from followup.services import second_readings as service
from followup.services import voiding
from registry.errors import IllegalTransition, NotAllowed, StaleVersion
from registry.models import AuditEntry, Person
from registry.services import records
from tests import builders
from tests.builders import NOW
from tests.followup.twice import film, policy, read, readers

pytestmark = pytest.mark.usefixtures("defaults")


def states(of: Film) -> list[tuple[int, str]]:
    return list(WantedReading.objects.filter(film=of).order_by("turn").values_list("turn", "state"))


def draw(coordinator: Person) -> service.Drawn:
    return service.draw_all(by=coordinator, now=NOW)


def test_without_a_policy_nothing_is_wanted() -> None:
    read(film(), readers(1)[0])
    assert not WantedReading.objects.exists()


def test_the_first_reading_wants_a_second_in_its_transaction() -> None:
    policy()
    one, two, _ = readers()
    shown = film()
    assert states(shown) == []
    assert read(shown, one).turn == 1
    row = WantedReading.objects.get()
    assert (row.film, row.turn, row.because, row.state) == (shown, 2, "all", "wanted")
    assert row.reader is None
    assert read(shown, two).turn == 2
    row.refresh_from_db()
    assert (row.state, row.reader) == ("done", two)
    assert states(shown) == [(2, "done")]


def test_a_correction_by_the_first_reader_is_no_second_reading() -> None:
    policy()
    one, *_ = readers()
    shown = film()
    read(shown, one)
    assert read(shown, one, "10.4").turn == 1
    assert states(shown) == [(2, "wanted")]


def test_a_reading_that_was_not_blind_fulfils_nothing() -> None:
    policy()
    one, two, three = readers()
    shown = film()
    read(shown, one)
    assert read(shown, two, blind=False).turn == 2
    assert states(shown) == [(2, "wanted")]
    # Nor does its correction, which is by somebody who knew.
    read(shown, two, blind=True)
    assert states(shown) == [(2, "wanted")]
    assert read(shown, three).turn == 3
    assert states(shown) == [(2, "done")]


def test_what_a_colleague_has_taken_is_left_to_them() -> None:
    policy()
    one, two, three = readers()
    shown = film()
    read(shown, one)
    row = WantedReading.objects.get()
    service.take(wanted=row, by=two, now=NOW, expected_version=1)
    read(shown, three)
    assert states(shown) == [(2, "wanted")]
    read(shown, two)
    row.refresh_from_db()
    assert (row.state, row.reader) == ("done", two)


def test_two_that_lie_too_far_apart_want_a_third_by_neither_of_them() -> None:
    policy()
    one, two, three = readers()
    shown = film()
    read(shown, one, "10.0")
    read(shown, two, "12.1")
    assert states(shown) == [(2, "done"), (3, "wanted")]
    third = WantedReading.objects.get(turn=3)
    assert third.because == "disagreement"
    for who in (one, two):
        with pytest.raises(NotAllowed, match="You have read this film before"):
            service.take(wanted=third, by=who, now=NOW, expected_version=1)
    assert read(shown, three, "11.0").turn == 3
    assert states(shown) == [(2, "done"), (3, "done")]


def test_at_the_limit_nobody_asks_a_third() -> None:
    policy()
    one, two, _ = readers()
    shown = film()
    read(shown, one, "10.0")
    read(shown, two, "12.0")
    assert states(shown) == [(2, "done")]


def test_a_correction_is_judged_again_both_ways() -> None:
    policy()
    one, two, _ = readers()
    shown = film()
    read(shown, one, "10.0")
    read(shown, two, "14.0")
    read(shown, two, "11.0")
    row = WantedReading.objects.get(turn=3)
    assert (row.state, row.withdrawn_because) == ("withdrawn", service.AGREE)
    read(shown, one, "7.0")
    row.refresh_from_db()
    assert (row.state, row.withdrawn_because) == ("wanted", "")


def test_a_third_that_was_taken_is_not_taken_away_by_a_correction() -> None:
    policy()
    one, two, three = readers()
    shown = film()
    read(shown, one, "10.0")
    read(shown, two, "14.0")
    third = WantedReading.objects.get(turn=3)
    service.take(wanted=third, by=three, now=NOW, expected_version=1)
    read(shown, two, "10.0")
    assert states(shown) == [(2, "done"), (3, "wanted")]


def test_near_a_threshold_is_judged_from_the_first_reading_and_the_first_film() -> None:
    policy(draw="near", near_ratio_pct=200, near_margin_pct=1)
    one, *_ = readers()
    hurt = builders.procedure(performed_on=date(2026, 6, 5)).injury
    first, near, far, other_view = (
        film(hurt, date(2026, 6, 8)),
        film(hurt, date(2026, 7, 20)),
        film(hurt, date(2026, 9, 1)),
        film(hurt, date(2026, 9, 2), view="ap"),
    )
    for shown, length in ((first, "9.0"), (near, "11.5"), (far, "9.4"), (other_view, "12.0")):
        read(shown, one, length)
    assert [states(shown) for shown in (first, near, far, other_view)] == [
        [],
        [(2, "wanted")],
        [],
        [],
    ]


def test_a_night_draws_what_was_read_before_the_policy_and_twice_equals_once(
    coordinator: Person,
) -> None:
    one, *_ = readers()
    seen = [film() for _ in range(4)]
    for shown in seen:
        read(shown, one)
    unread = film()
    policy()
    assert draw(coordinator) == service.Drawn(wanted=4, withdrawn=0, given_back=0)
    trail = AuditEntry.objects.count()
    assert draw(coordinator) == service.Drawn(wanted=0, withdrawn=0, given_back=0)
    assert AuditEntry.objects.count() == trail
    assert WantedReading.objects.count() == 4
    assert states(unread) == []


def test_what_was_read_twice_already_counts_as_done(coordinator: Person) -> None:
    one, two, _ = readers()
    alike, apart = film(), film()
    for shown, length in ((alike, "10.5"), (apart, "15.0")):
        read(shown, one)
        read(shown, two, length)
    policy()
    assert draw(coordinator).wanted == 1
    assert states(alike) == [(2, "done")]
    assert states(apart) == [(2, "done"), (3, "wanted")]
    assert WantedReading.objects.get(film=alike).reader == two


def test_a_changed_share_adds_and_removes_at_the_margin_only(coordinator: Person) -> None:
    one, two, _ = readers()
    shown = [film() for _ in range(30)]
    for each in shown:
        read(each, one)

    def wanted() -> set[int]:
        return set(WantedReading.objects.exclude(state="withdrawn").values_list("film", flat=True))

    def within(share: int) -> set[int]:
        return {each.pk for each in shown if place_of("s", each.pk) < share / 100}

    for share in (50, 80, 30):
        policy(draw="share", share_pct=share, seed="s")
        if share == 30:
            # What somebody has taken stays theirs.
            held = WantedReading.objects.filter(film__in=within(80) - within(50)).first()
            assert held is not None
            service.take(wanted=held, by=two, now=NOW, expected_version=held.version)
        draw(coordinator)
        assert wanted() == within(share) | ({held.film_id} if share == 30 else set())


def test_without_a_policy_again_what_is_open_is_withdrawn_and_what_is_done_stays(
    coordinator: Person,
) -> None:
    policy()
    one, two, _ = readers()
    waiting, done = film(), film()
    for shown in (waiting, done):
        read(shown, one)
    read(done, two)
    policy(draw="none")
    assert draw(coordinator) == service.Drawn(wanted=0, withdrawn=1, given_back=0)
    assert (states(waiting), states(done)) == ([(2, "withdrawn")], [(2, "done")])


def test_what_was_taken_long_ago_and_not_read_goes_back_to_all(coordinator: Person) -> None:
    policy()
    one, two, _ = readers()
    read(film(), one)
    row = WantedReading.objects.get()
    service.take(wanted=row, by=two, now=NOW, expected_version=1)
    later = NOW + timedelta(days=service.KEPT_DAYS)
    assert service.draw_all(by=coordinator, now=later).given_back == 0
    assert service.draw_all(by=coordinator, now=later + timedelta(seconds=1)).given_back == 1
    row.refresh_from_db()
    assert (row.state, row.reader) == ("wanted", None)


def test_of_two_readers_who_saw_the_same_version_one_takes() -> None:
    policy()
    one, two, three = readers()
    read(film(), one)
    mine, theirs = WantedReading.objects.get(), WantedReading.objects.get()
    service.take(wanted=mine, by=two, now=NOW, expected_version=1)
    with pytest.raises(StaleVersion):
        service.take(wanted=theirs, by=three, now=NOW, expected_version=1)
    assert WantedReading.objects.get().reader == two
    # Taking what is one's own again changes nothing.
    again = WantedReading.objects.get()
    service.take(wanted=again, by=two, now=NOW, expected_version=again.version)
    assert WantedReading.objects.get().version == 2
    with pytest.raises(IllegalTransition, match="taken by a colleague"):
        service.take(wanted=again, by=three, now=NOW, expected_version=2)


def test_the_next_of_a_queue_is_ones_own_first_then_the_oldest() -> None:
    policy()
    one, two, three = readers()
    for shown in [film() for _ in range(3)]:
        read(shown, one)
    first, second, last = WantedReading.objects.order_by("id")
    service.take(wanted=last, by=two, now=NOW, expected_version=1)
    assert service.take_next(turn=2, by=two, now=NOW) == last
    assert service.take_next(turn=2, by=three, now=NOW) == first
    read(last.film, two)
    assert service.take_next(turn=2, by=two, now=NOW) == second
    assert service.take_next(turn=3, by=two, now=NOW) is None
    assert service.take_next(turn=2, by=one, now=NOW) is None


def test_what_was_taken_is_given_back_by_its_taker_alone() -> None:
    policy()
    one, two, three = readers()
    read(film(), one)
    row = WantedReading.objects.get()
    service.take(wanted=row, by=two, now=NOW, expected_version=1)
    with pytest.raises(IllegalTransition, match="not taken by you"):
        service.give_back(wanted=row, by=three, now=NOW, expected_version=2)
    service.give_back(wanted=row, by=two, now=NOW, expected_version=2)
    assert WantedReading.objects.get().reader is None
    read(row.film, two)
    row.refresh_from_db()
    with pytest.raises(IllegalTransition, match="'done'"):
        service.give_back(wanted=row, by=two, now=NOW, expected_version=row.version)


def test_who_does_not_read_there_takes_nothing(outsider: Person, coordinator: Person) -> None:
    policy()
    read(film(), readers(1)[0])
    row = WantedReading.objects.get()
    for who in (outsider, coordinator):
        with pytest.raises(NotAllowed):
            service.take(wanted=row, by=who, now=NOW, expected_version=1)


def test_a_film_without_a_reading_that_stands_wants_none(coordinator: Person) -> None:
    policy()
    shown = film()
    first = read(shown, readers(1)[0])
    records.void(first, by=coordinator, now=NOW, expected_version=1, reason="another film")
    assert draw(coordinator).withdrawn == 1
    assert WantedReading.objects.get().withdrawn_because == service.NOT_READ


def test_what_is_wanted_goes_with_the_injury_that_is_void(coordinator: Person) -> None:
    policy()
    hurt = builders.injury()
    read(film(hurt), readers(1)[0])
    voiding.void_of_injury(injury=hurt, reason="another patient", by=coordinator, now=NOW)
    assert not WantedReading.objects.exists()
    assert not Reading.objects.exists()


def test_a_night_asks_as_much_of_the_database_for_many_films_as_for_few(
    coordinator: Person, counted: Any
) -> None:
    policy(draw="near")
    one, *_ = readers()
    costs = []
    for more in (3, 12):
        for _ in range(more):
            read(film(), one, "10.0")
        draw(coordinator)
        with counted() as queries:
            draw(coordinator)
        costs.append(len(queries))
    assert costs[0] == costs[1]
