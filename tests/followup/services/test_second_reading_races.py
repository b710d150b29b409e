"""Several readers at the same moment: each film has one first reader, and each wanted one taker."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

import pytest
from django.db import connection

from followup.models import Film, Reading, WantedReading
from followup.services import second_readings as service
from registry.errors import IllegalTransition, StaleVersion
from registry.models import Person
from tests import builders
from tests.builders import NOW
from tests.followup.twice import film, policy, read, readers

pytestmark = [pytest.mark.needs_postgres, pytest.mark.django_db(transaction=True)]
AT_ONCE = 6


def all_at_once(work: Callable[[int], Any]) -> list[Any]:
    line = Barrier(AT_ONCE)

    def one(number: int) -> Any:
        line.wait(timeout=300)
        try:
            return work(number)
        finally:
            connection.close()

    with ThreadPoolExecutor(AT_ONCE) as pool:
        return list(pool.map(one, range(AT_ONCE)))


def test_of_readers_who_take_the_same_reading_one_has_it() -> None:
    builders.load_defaults()
    policy()
    first, *others = readers(AT_ONCE + 1)
    read(film(), first)

    def take(number: int) -> bool:
        row = WantedReading.objects.get()
        try:
            service.take(wanted=row, by=others[number], now=NOW, expected_version=row.version)
        except (StaleVersion, IllegalTransition):
            return False
        return True

    assert all_at_once(take).count(True) == 1
    assert WantedReading.objects.get().reader in others
    assert WantedReading.objects.get().version == 2


def test_readers_who_ask_for_the_next_get_a_film_each() -> None:
    builders.load_defaults()
    policy()
    first, *others = readers(AT_ONCE + 1)
    for _ in range(AT_ONCE):
        read(film(), first)

    def next_one(number: int) -> int | None:
        row = service.take_next(turn=2, by=others[number], now=NOW)
        return None if row is None else row.pk

    taken = all_at_once(next_one)
    assert None not in taken
    assert len(set(taken)) == AT_ONCE


def test_of_readers_who_read_a_new_film_at_once_one_is_first_and_one_second() -> None:
    builders.load_defaults()
    policy()
    people = readers(AT_ONCE)
    shown = film()

    def save(number: int) -> int:
        return int(
            read(Film.objects.get(pk=shown.pk), Person.objects.get(pk=people[number].pk)).turn
        )

    assert sorted(all_at_once(save)) == list(range(1, AT_ONCE + 1))
    row = WantedReading.objects.get()
    assert row.state == "done"
    assert Reading.objects.get(turn=2).reader == row.reader
