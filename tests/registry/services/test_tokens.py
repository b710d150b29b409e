"""Tokens with which a person's programs sign in."""

from datetime import timedelta

import pytest
from knox.models import AuthToken

from registry.errors import BadInput
from registry.models import Person
from registry.services import tokens
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
