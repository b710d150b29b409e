"""Several programs' tokens made at the same moment: no more than the limit come to be."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection
from knox.models import AuthToken

from registry.errors import BadInput
from registry.services import tokens
from tests import builders
from tests.builders import NOW

pytestmark = [pytest.mark.needs_postgres, pytest.mark.django_db(transaction=True)]
AT_ONCE = 6


def test_of_many_tokens_at_once_only_the_last_that_is_left_is_made() -> None:
    selma = builders.person("selma", north="surgeon")
    for _ in range(tokens.MOST - 1):
        tokens.make_token(person=selma, days=1, now=NOW)
    begin = Barrier(AT_ONCE)

    def make(_: int) -> bool:
        begin.wait(timeout=300)
        try:
            tokens.make_token(person=selma, days=1, now=NOW)
        except BadInput:
            return False
        finally:
            connection.close()
        return True

    with ThreadPoolExecutor(AT_ONCE) as pool:
        assert sum(pool.map(make, range(AT_ONCE))) == 1
    assert AuthToken.objects.filter(user=selma).count() == tokens.MOST
