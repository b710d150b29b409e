"""Looking at one moment of the database, without writing and without being in anybody's way."""

from threading import Thread

import pytest
from django.db import DatabaseError, connection, transaction

from registry.models import Site
from registry.services.moments import one_moment
from tests import builders

pytestmark = pytest.mark.django_db(transaction=True)


def test_nothing_is_written_inside_and_everything_again_afterwards() -> None:
    builders.site("north")
    with pytest.raises(DatabaseError), one_moment():
        Site.objects.update(name="Otherwise")
    assert not Site.objects.filter(name="Otherwise").exists()
    Site.objects.update(name="Otherwise")
    assert Site.objects.filter(name="Otherwise").exists()


@pytest.mark.needs_postgres
def test_what_others_save_meanwhile_is_not_seen_and_nobody_waits() -> None:
    builders.site("north")

    def somebody_else() -> None:
        builders.site("south")
        connection.close()

    with one_moment():
        assert Site.objects.count() == 1
        other = Thread(target=somebody_else)
        other.start()
        other.join(30)
        assert not other.is_alive()
        assert Site.objects.count() == 1
    assert Site.objects.count() == 2


def test_inside_a_transaction_it_looks_at_what_that_has_written() -> None:
    with transaction.atomic():
        builders.site("north")
        with one_moment():
            assert Site.objects.count() == 1
