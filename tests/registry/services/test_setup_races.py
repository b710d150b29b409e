"""Two administrators who shut each other out at the same moment: one of them stays."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from registry.errors import BadInput
from registry.models import Membership
from registry.services import setup
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = [pytest.mark.needs_postgres, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("way", ["role", "sign-in"])
def test_of_two_who_shut_each_other_out_at_once_one_administers_still(
    monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    both = [builders.person(name, north="administrator") for name in ("ada", "bert")]
    roles = [person.memberships.get() for person in both]
    begin = Barrier(2)
    # Whoever gets through the door first stands in it until the other has had time to look.
    counted = setup._another_administrator

    def slowly(membership: Membership) -> bool:
        found = counted(membership)
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_sleep(0.5)")
        return found

    monkeypatch.setattr(setup, "_another_administrator", slowly)

    def end(number: int) -> bool:
        begin.wait(timeout=300)
        try:
            if way == "role":
                setup.end_role(membership=roles[number], on=TODAY, by=both[1 - number])
            else:
                setup.change_person(
                    person=both[number],
                    shown_name=both[number].shown_name,
                    email="",
                    is_active=False,
                    password="",
                    expected_version=1,
                    by=both[1 - number],
                    now=NOW,
                )
        except BadInput:
            return False
        finally:
            connection.close()
        return True

    with ThreadPoolExecutor(2) as pool:
        assert sorted(pool.map(end, range(2))) == [False, True]
    left = Membership.objects.filter(role="administrator", ends_on__isnull=True)
    assert left.filter(person__is_active=True).count() == 1
