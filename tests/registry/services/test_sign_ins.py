"""The watch over the door: counting failed tries, making guessers wait."""

from datetime import datetime, timedelta

import pytest

from registry.models import SignInEvent, SignInTry
from registry.models.sign_ins import SignInEventKind
from registry.services import sign_ins
from registry.services.sign_ins import Where, begin_try, try_succeeded
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db
SECOND = timedelta(seconds=1)


def fail(times: int, now: datetime = NOW, name: str = "selma", address: str = "192.0.2.1") -> None:
    """Fail so often under a name, as fast as one is heard."""
    for _ in range(times):
        while (tried := begin_try(name=name, address=address, device="", now=now)).wait:
            now += tried.wait


def heard(
    name: str = "selma", address: str = "192.0.2.1", device: str = "", **given: datetime
) -> bool:
    return not begin_try(name=name, address=address, device=device, now=given.get("now", NOW)).wait


def test_whoever_fails_too_often_waits_and_is_heard_again() -> None:
    fail(5)
    assert not heard()
    assert not heard(now=NOW + 14 * SECOND)
    assert heard(now=NOW + 15 * SECOND)


def test_a_try_while_waiting_makes_the_wait_no_longer() -> None:
    fail(5)
    for after in range(14):
        assert not heard(now=NOW + after * SECOND)
    assert heard(now=NOW + 15 * SECOND)


def test_others_addresses_do_not_wait_for_it() -> None:
    fail(5)
    assert heard(address="192.0.2.2")
    assert heard(name="connie")


def test_many_addresses_slow_down_strange_browsers_and_not_the_own_one() -> None:
    for number in range(20):
        fail(1, address=f"192.0.2.{number}")
    assert not heard(address="203.0.113.1")
    assert heard(address="203.0.113.1", device="own")
    assert heard(address="192.0.2.1", device="own")


def test_an_own_browser_that_guesses_waits_as_well_and_alone() -> None:
    for _ in range(5):
        assert heard(device="shared")
    assert not heard(device="shared")
    assert heard(device="another")
    assert heard()


def test_one_address_that_tries_many_names_waits_for_all_of_them() -> None:
    for number in range(40):
        fail(1, name=f"name{number}")
    assert not heard(name="name-of-nobody")
    assert heard(name="name-of-nobody", address="192.0.2.2")


def test_the_newer_protocol_is_no_way_around_it() -> None:
    for number in range(5):
        fail(1, address=f"2001:db8::{number + 1}")
    assert not heard(address="2001:db8::ffff")


def test_success_forgets_the_failures_of_the_own_address_alone() -> None:
    fail(4)
    tried = begin_try(name="selma", address="192.0.2.1", device="", now=NOW)
    try_succeeded(tried)
    assert heard()
    left = dict(SignInTry.objects.values_list("kind", "failures"))
    # Four failures and the try just made.
    assert left == {"pair": 1, "account": 5, "address": 5}


def test_a_wait_after_the_last_failure_is_told() -> None:
    fail(4)
    tried = begin_try(name="selma", address="192.0.2.1", device="", now=NOW)
    assert sign_ins.wait_after(tried) == 15 * SECOND


def test_what_is_kept_of_a_try_names_nobody() -> None:
    fail(1, name="selma")
    kept = " ".join(str(value) for row in SignInTry.objects.values() for value in row.values())
    assert "selma" not in kept
    assert "192.0.2.1" not in kept


def test_what_happened_is_written_with_where_it_came_from() -> None:
    selma, ada = builders.person("selma"), builders.person("ada")
    came = Where("192.0.2.1", "Mozilla/5.0 (X11; Linux) Firefox/140.0")
    sign_ins.write_down(SignInEventKind.IN, person=selma, now=NOW, where=came)
    sign_ins.write_down(SignInEventKind.ENDED, person=selma, by=ada, now=NOW, detail="x" * 300)
    ended, came_in = SignInEvent.objects.order_by("-pk")
    assert (came_in.person, came_in.address, came_in.browser) == (
        selma,
        "192.0.2.1",
        "Firefox on Linux",
    )
    assert (ended.by, ended.address, len(ended.detail)) == (ada, "", 200)


def test_what_counts_no_more_and_what_is_old_is_forgotten() -> None:
    fail(1)
    sign_ins.write_down(SignInEventKind.IN, person=builders.person("selma"), now=NOW)
    assert sign_ins.forget_old(now=NOW + timedelta(hours=11)) == (0, 0)
    assert sign_ins.forget_old(now=NOW + timedelta(hours=13)) == (3, 0)
    assert sign_ins.forget_old(now=NOW + timedelta(days=366)) == (0, 1)


@pytest.mark.needs_postgres
@pytest.mark.django_db(transaction=True)
def test_many_tries_at_once_count_as_many() -> None:
    from concurrent.futures import ThreadPoolExecutor  # noqa: PLC0415

    from django.db import connections  # noqa: PLC0415

    def one(_: int) -> bool:
        try:
            return heard()
        finally:
            connections.close_all()

    with ThreadPoolExecutor(8) as many:
        answers = list(many.map(one, range(24)))
    assert sum(answers) == 5
