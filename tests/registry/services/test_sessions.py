"""How sessions end: by the person, by an administrator, by time."""

from datetime import timedelta

import pytest
from allauth.usersessions.models import UserSession
from django.contrib.sessions.models import Session
from django.test import Client
from django.utils import timezone
from knox.models import AuthToken

from registry.models import Person, SignInEvent
from registry.models.sign_ins import SignInEventKind
from registry.services import sessions, tokens
from registry.services.sign_ins import Where
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db
CAME = Where("192.0.2.1", "")


def signed_in(person: Person) -> str:
    """Sign a person in with a browser of their own; return the key of the session."""
    client = Client()
    client.force_login(person)
    return str(client.session.session_key)


def keys() -> set[str]:
    return set(Session.objects.values_list("session_key", flat=True))


def test_one_session_ends_and_no_other() -> None:
    selma = builders.person("selma")
    one, other = signed_in(selma), signed_in(selma)
    number = UserSession.objects.get(session_key=one).pk
    assert sessions.end_one(person=selma, session_id=number, now=NOW, where=CAME) == 1
    assert keys() == {other}
    assert sessions.end_one(person=selma, session_id=number, now=NOW, where=CAME) == 0
    assert SignInEvent.objects.filter(kind="ended", person=selma, by=None).count() == 1


def test_nobody_ends_the_session_of_another() -> None:
    selma, connie = builders.person("selma"), builders.person("connie")
    key = signed_in(selma)
    number = UserSession.objects.get(session_key=key).pk
    assert sessions.end_one(person=connie, session_id=number, now=NOW, where=CAME) == 0
    assert keys() == {key}


def test_all_others_end_and_this_one_stays() -> None:
    selma, connie = builders.person("selma"), builders.person("connie")
    this, theirs = signed_in(selma), signed_in(connie)
    signed_in(selma), signed_in(selma)
    assert sessions.end_others(person=selma, but=this, now=NOW, where=CAME) == 2
    assert keys() == {this, theirs}


def test_everything_ends_of_everybody_and_is_written_down() -> None:
    selma, connie = builders.person("selma", north="surgeon"), builders.person("connie")
    signed_in(selma), signed_in(connie)
    tokens.make_token(person=selma, days=30, now=NOW)
    tokens.make_token(person=selma, days=90, now=NOW)
    assert sessions.end_everything(now=NOW) == (2, 2)
    assert not keys()
    assert not UserSession.objects.exists()
    assert not AuthToken.objects.exists()
    told = SignInEvent.objects.get(kind=SignInEventKind.TOKEN_REVOKED, person=selma)
    assert told.detail == "all 2"


def test_whoever_is_shut_out_has_no_session_and_no_token_left() -> None:
    selma, ada = builders.person("selma", north="surgeon"), builders.person("ada")
    stays = signed_in(ada)
    signed_in(selma), signed_in(selma)
    tokens.make_token(person=selma, days=1, now=timezone.now())
    assert sessions.shut_out(person=selma, by=ada, now=NOW) == (2, 1)
    assert keys() == {stays}
    assert not AuthToken.objects.exists()
    events = SignInEvent.objects.filter(person=selma, by=ada).order_by("pk")
    assert [(one.kind, one.detail) for one in events] == [
        ("ended", "2 sessions"),
        ("revoked", "all 1"),
    ]


def test_what_has_run_out_is_forgotten() -> None:
    selma = builders.person("selma")
    old, new = signed_in(selma), signed_in(selma)
    now = timezone.now()
    Session.objects.filter(session_key=old).update(expire_date=now - timedelta(seconds=1))
    assert sessions.forget_ended(now=now) == 1
    assert keys() == {new}
    assert UserSession.objects.get().session_key == new
