"""Two administrators who end each other's role at the same moment: one of them stays."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from registry.errors import BadInput
from registry.models import Membership
from registry.services import setup
from tests import builders
from tests.builders import TODAY

pytestmark = [pytest.mark.needs_postgres, pytest.mark.django_db(transaction=True)]


def test_of_two_who_end_each_others_role_at_once_one_administers_still(
    monkeypatch: pytest.MonkeyPatch,
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
            setup.end_role(membership=roles[number], on=TODAY, by=both[1 - number])
        except BadInput:
            return False
        finally:
            connection.close()
        return True

    with ThreadPoolExecutor(2) as pool:
        assert sorted(pool.map(end, range(2))) == [False, True]
    assert Membership.objects.filter(role="administrator", ends_on__isnull=True).count() == 1
