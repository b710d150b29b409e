"""Taking a lost second factor away."""

import pytest
from django.contrib.sessions.models import Session
from django.test import Client
from knox.models import AuthToken

from registry.errors import BadInput
from registry.models import AuditEntry, SignInEvent
from registry.services import tokens
from registry.services.factors import remove_factors
from tests import builders, trailed
from tests.builders import NOW
from tests.factored import factors, with_authenticator, with_recovery_codes

pytestmark = pytest.mark.django_db


def test_all_go_the_trail_says_who_and_why_and_the_person_is_signed_out() -> None:
    selma, ada = with_authenticator(builders.person("selma")), builders.person("ada")
    with_recovery_codes(selma)
    tokens.make_token(person=selma, days=30, now=NOW)
    client = Client()
    client.force_login(selma)
    assert remove_factors(person=selma, reason="Lost phone", by=ada, now=NOW) == 2
    assert factors(selma) == []
    assert not Session.objects.exists()
    assert not AuthToken.objects.exists()
    entry = AuditEntry.objects.order_by("-pk")[0]
    assert (entry.table, entry.row_id) == ("registry_person", str(selma.pk))
    assert (entry.person_id, entry.reason) == (ada.pk, "Lost phone")
    assert entry.before == {"second_factors": ["an authenticator", "recovery codes"]}
    assert trailed.holds()
    event = SignInEvent.objects.get(kind="removed")
    assert (event.person, event.by) == (selma, ada)


@pytest.mark.parametrize("reason", ["", "   "])
def test_without_a_reason_nothing_goes(reason: str) -> None:
    selma, ada = with_authenticator(builders.person("selma")), builders.person("ada")
    with pytest.raises(BadInput, match="Say why"):
        remove_factors(person=selma, reason=reason, by=ada, now=NOW)
    assert factors(selma) == ["totp"]


def test_nobody_removes_their_own_that_way() -> None:
    ada = with_authenticator(builders.person("ada"))
    with pytest.raises(BadInput, match="Remove your own"):
        remove_factors(person=ada, reason="Lost", by=ada, now=NOW)
    assert factors(ada) == ["totp"]


def test_where_there_is_none_that_is_said() -> None:
    with pytest.raises(BadInput, match="has no second factor"):
        remove_factors(
            person=builders.person("selma"), reason="x", by=builders.person("ada"), now=NOW
        )
