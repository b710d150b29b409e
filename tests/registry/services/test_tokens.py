"""Tokens with which a person's programs sign in."""

from datetime import datetime, timedelta

import pytest
from knox.models import AuthToken

from registry.errors import BadInput
from registry.models import Person
from registry.services import tokens
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db


def test_a_token_is_kept_hashed(coordinator: Person) -> None:
    token = tokens.make_token(person=coordinator, days=30, now=NOW)
    row = AuthToken.objects.get()
    assert token not in (row.digest, row.token_key)
    assert row.expiry - row.created == pytest.approx(timedelta(days=30), abs=timedelta(minutes=1))


def test_only_so_many_tokens_live_at_once(coordinator: Person) -> None:
    for _ in range(tokens.MOST):
        tokens.make_token(person=coordinator, days=1, now=NOW)
    with pytest.raises(BadInput, match="revoke one"):
        tokens.make_token(person=coordinator, days=1, now=NOW)


def test_a_token_that_has_ended_is_not_listed(coordinator: Person) -> None:
    tokens.make_token(person=coordinator, days=1, now=NOW)
    made = AuthToken.objects.get().created
    assert len(tokens.live_tokens(person=coordinator, now=made)) == 1
    assert tokens.live_tokens(person=coordinator, now=made + timedelta(days=2)) == []


def test_a_token_is_revoked_by_its_whole_beginning_only(coordinator: Person) -> None:
    token = tokens.make_token(person=coordinator, days=1, now=NOW)
    assert tokens.revoke_token(person=coordinator, begins=token[:3]) == 0
    assert tokens.revoke_token(person=coordinator, begins=token[: tokens.SHOWN]) == 1
    assert not AuthToken.objects.exists()


def test_a_token_reads_or_writes_and_at_which_sites() -> None:
    both = builders.person("both", north="surgeon", south="surgeon")
    north = builders.site("north").pk
    scope = tokens.Scope(writes=False, sites=frozenset({north}))
    tokens.make_token(person=both, days=1, now=NOW, scope=scope)
    row = AuthToken.objects.get()
    assert tokens.use_token(token=row, now=NOW) == scope
    (shown,) = tokens.live_tokens(person=both, now=row.created)
    assert (shown.writes, shown.everywhere, shown.sites) == (False, False, ("North Hospital",))


def test_sites_that_are_none_of_the_persons_are_refused(coordinator: Person) -> None:
    south = builders.site("south").pk
    for sites in ({south}, set()):
        with pytest.raises(BadInput, match="your own sites"):
            tokens.make_token(
                person=coordinator, days=1, now=NOW, scope=tokens.Scope(sites=frozenset(sites))
            )
    assert not AuthToken.objects.exists()


def test_the_last_use_is_kept_once_a_minute(coordinator: Person) -> None:
    tokens.make_token(person=coordinator, days=1, now=NOW)
    row = AuthToken.objects.get()

    def used_at(now: datetime) -> datetime | None:
        tokens.use_token(token=row, now=now)
        return tokens.live_tokens(person=coordinator, now=row.created)[0].used_at

    assert used_at(NOW) == NOW
    assert used_at(NOW + timedelta(seconds=59)) == NOW
    assert used_at(NOW + timedelta(seconds=60)) == NOW + timedelta(seconds=60)


def test_a_token_of_before_there_were_scopes_does_all(coordinator: Person) -> None:
    AuthToken.objects.create(user=coordinator, expiry=timedelta(days=1))
    row = AuthToken.objects.get()
    assert tokens.use_token(token=row, now=NOW) == tokens.WHOLE
    assert tokens.live_tokens(person=coordinator, now=row.created)[0].everywhere
