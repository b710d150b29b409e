"""Signing in at a provider by OpenID Connect, which really runs beside these tests."""

import time
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlsplit

import httpx
import pytest
from allauth.socialaccount.models import SocialAccount
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from joserfc.jwk import RSAKey
from knox.models import AuthToken
from oidc_provider_mock import User, run_server_in_thread
from oidc_provider_mock import _app as provider_app

from config import env
from config.sign_in.hospital import FACTOR_THERE, asked_at, asked_for_factor
from registry.models import AuditEntry, Membership, Person, SignInEvent
from registry.services import hospital_sign_in
from registry.views.step_up import BEGAN
from tests import builders
from tests.builders import NOW
from tests.factored import code_now, give_code, give_password, with_authenticator, with_password

pytestmark = [
    pytest.mark.django_db,
    # The provider's own, in what it is made of.
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
]
SUBJECT = "subject-4711"
PATIENCE_SECONDS = 60
CLAIMS: dict[str, object] = {"preferred_username": "selma", "roles": ["administrator"]}


@pytest.fixture
def provider(settings: Any) -> Iterator[Any]:
    """Run a provider on a port of this machine, and name it in the settings."""
    cache.clear()
    with run_server_in_thread(user_claims=[User(sub=SUBJECT, claims=dict(CLAIMS))]) as server:
        issuer = f"http://localhost:{server.server_port}"
        settings.SSO_ISSUER = issuer
        # A busy machine is slow, and the provider not gone.
        settings.SOCIALACCOUNT_REQUESTS_TIMEOUT = PATIENCE_SECONDS
        settings.SSO_PROVIDER_ID = "hospital-test"
        settings.SOCIALACCOUNT_PROVIDERS = env.provider(
            issuer, provider_id="hospital-test", name="Merrow", client="holdfast", secret="s3cret"
        )
        yield server


@pytest.fixture
def selma(provider: Any) -> Person:
    """Somebody whom an administrator tied to the subject."""
    person = builders.person("selma", north="surgeon")
    hospital_sign_in.tie(person=person, subject=SUBJECT, by=builders.person("ada"), now=NOW)
    return person


def asked(client: Client) -> str:
    """Return the address at the provider to which the sign-in page leads."""
    answer = client.post(reverse("openid_connect_login", args=["hospital-test"]))
    assert answer.status_code == 302
    return str(answer.headers["Location"])


def answered(address: str, subject: str = SUBJECT, **sent: str) -> str:
    """Sign in at the provider, and return where it sends the browser: a path of ours."""
    answer = httpx.post(address, data={"sub": subject, **sent}, timeout=PATIENCE_SECONDS)
    assert answer.status_code == 302, answer.text[:500]
    back = urlsplit(answer.headers["Location"])
    return f"{back.path}?{back.query}"


def told(provider: Any, subject: str, claims: dict[str, object]) -> None:
    """Let the provider know somebody otherwise than before."""
    where = f"http://localhost:{provider.server_port}/users/{subject}"
    assert httpx.put(where, json=claims, timeout=PATIENCE_SECONDS).is_success


def come(client: Client, subject: str = SUBJECT) -> Any:
    return client.get(answered(asked(client), subject))


def is_in(client: Client) -> bool:
    return client.get(reverse("account")).status_code == 200


def test_who_is_tied_comes_in_with_a_session_of_their_own(selma: Person) -> None:
    client = Client()
    assert come(client).headers["Location"] == reverse("home")
    assert client.get(reverse("account")).context["user"] == selma
    assert SignInEvent.objects.filter(kind="in", person=selma).count() == 1
    # Nothing that the provider tells is kept.
    assert SocialAccount.objects.get().extra_data == {}


@pytest.mark.usefixtures("selma")
def test_what_is_sent_has_a_nonce_a_state_and_a_challenge_that_nobody_adds_to() -> None:
    client = Client()
    where = reverse("openid_connect_login", args=["hospital-test"])
    address = client.post(f"{where}?auth_params=nonce%3Dmine&scope=email").headers["Location"]
    sent = dict(httpx.URL(address).params)
    assert sent["nonce"] not in ("", "mine")
    assert set(sent["scope"].split()) == {"openid", "profile"}
    assert {"state", "code_challenge"} <= set(sent)
    assert client.get(where).status_code == 200


@pytest.mark.usefixtures("selma")
def test_roles_are_never_taken_from_the_provider() -> None:
    before = list(Membership.objects.values())
    client = Client()
    come(client)
    assert list(Membership.objects.values()) == before
    assert client.get(reverse("setup")).status_code == 403


def test_somebody_unknown_is_told_so_and_nobody_is_made(provider: Any) -> None:
    people = Person.objects.count()
    client = Client()
    answer = come(client)
    assert answer.status_code == 403
    assert "Ask an administrator to tie" in answer.content.decode()
    assert not is_in(client)
    assert Person.objects.count() == people
    assert not SocialAccount.objects.exists()
    assert SignInEvent.objects.get().kind == "refused"


def test_by_the_name_somebody_is_tied_once_where_the_setting_allows(
    provider: Any, settings: Any
) -> None:
    settings.SSO_USERNAME_CLAIM = "preferred_username"
    selma = builders.person("selma", north="surgeon")
    client = Client()
    come(client)
    assert is_in(client)
    assert hospital_sign_in.subject_of(selma) == SUBJECT
    # Another subject with the same name is not let in any more.
    again = Client()
    told(provider, "other", {"preferred_username": "selma"})
    assert come(again, "other").status_code == 403
    assert not is_in(again)


def test_without_the_setting_a_name_ties_nobody(provider: Any) -> None:
    builders.person("selma", north="surgeon")
    assert come(Client()).status_code == 403


def test_a_deactivated_person_does_not_come_in(selma: Person) -> None:
    Person.objects.filter(pk=selma.pk).update(is_active=False)
    client = Client()
    assert come(client).headers["Location"] == reverse("account_inactive")
    assert not is_in(client)


def bad(monkeypatch: pytest.MonkeyPatch, **changed: Any) -> None:
    """Let the provider sign tokens with something changed."""
    plain = provider_app.OpenIDCode.get_jwt_config

    def config(self: Any, *given: Any, **named: Any) -> dict[str, Any]:
        return {**plain(self, *given, **named), **changed}

    monkeypatch.setattr(provider_app.OpenIDCode, "get_jwt_config", config)


@pytest.fixture(autouse=True)
def signed(monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Keep what the provider signs, so that a refusal is of a token and not of a broken provider."""
    made: list[Any] = []
    plain = provider_app.OpenIDCode.encode_id_token

    def kept(self: Any, *given: Any, **named: Any) -> Any:
        made.append(plain(self, *given, **named))
        return made[-1]

    monkeypatch.setattr(provider_app.OpenIDCode, "encode_id_token", kept)
    return made


def refused(client: Client, signed: list[Any]) -> bool:
    answer = come(client)
    return (
        len(signed) == 1
        and answer.status_code == 403
        and "no answer that can be trusted" in answer.content.decode()
        and not is_in(client)
    )


@pytest.mark.usefixtures("selma")
def test_a_token_of_another_issuer_is_refused(
    monkeypatch: pytest.MonkeyPatch, signed: list[Any]
) -> None:
    bad(monkeypatch, iss="https://elsewhere.example")
    assert refused(Client(), signed)


@pytest.mark.usefixtures("selma")
def test_a_token_that_has_expired_is_refused(
    monkeypatch: pytest.MonkeyPatch, signed: list[Any]
) -> None:
    bad(monkeypatch, exp=-60)
    assert refused(Client(), signed)


@pytest.mark.usefixtures("selma")
def test_a_token_with_another_nonce_is_refused(
    monkeypatch: pytest.MonkeyPatch, signed: list[Any]
) -> None:
    code = provider_app.AuthorizationCode
    monkeypatch.setattr(code, "get_nonce", lambda self: "another")
    assert refused(Client(), signed)


@pytest.mark.usefixtures("selma")
def test_a_token_for_another_service_is_refused(
    monkeypatch: pytest.MonkeyPatch, signed: list[Any]
) -> None:
    bad(monkeypatch, aud=["another"])
    assert refused(Client(), signed)


@pytest.mark.usefixtures("selma")
def test_a_token_signed_by_another_key_is_refused(
    monkeypatch: pytest.MonkeyPatch, signed: list[Any]
) -> None:
    strange = RSAKey.generate_key(2048, parameters={"kid": "strange"})
    bad(monkeypatch, key=strange.as_dict(private=True))
    assert refused(Client(), signed)


@pytest.mark.usefixtures("selma")
def test_a_provider_that_calls_itself_otherwise_is_not_asked(settings: Any) -> None:
    settings.SSO_ISSUER = "http://localhost:1"
    client = Client()
    answer = client.post(reverse("openid_connect_login", args=["hospital-test"]))
    assert answer.status_code == 403
    assert not is_in(client)


@pytest.mark.usefixtures("selma")
def test_an_answer_that_nobody_asked_for_or_that_was_used_is_refused() -> None:
    client, other = Client(), Client()
    back = answered(asked(client))
    assert other.get(back).status_code == 403
    assert client.get(back).status_code == 302
    again = Client()
    assert again.get(back).status_code == 403
    denied = answered(asked(other), action="deny")
    assert other.get(denied).status_code == 403
    assert not is_in(other)


def test_the_own_second_factor_is_asked_for_unless_the_provider_asked_for_one(
    provider: Any, selma: Person, settings: Any
) -> None:
    with_authenticator(selma)
    settings.SSO_SECOND_FACTOR = True
    assert come(Client()).headers["Location"] == reverse("mfa_authenticate")
    told(provider, SUBJECT, {**CLAIMS, "amr": ["pwd", "mfa"]})
    client = Client()
    assert come(client).headers["Location"] == reverse("home")
    assert is_in(client)
    settings.SSO_SECOND_FACTOR = False
    assert come(Client()).headers["Location"] == reverse("mfa_authenticate")


@pytest.mark.parametrize(
    ("claims", "needed"),
    [
        ({}, False),
        ({"amr": ["pwd"]}, False),
        ({"amr": ["pwd", "mfa"]}, True),
        ({"amr": "mfa"}, True),
        ({"acr": "https://refeds.org/profile/mfa"}, True),
        ({"acr": "https://refeds.org/profile/sfa"}, False),
    ],
)
def test_what_the_provider_says_of_a_second_factor(claims: dict[str, Any], needed: bool) -> None:
    assert asked_for_factor(claims) is needed


def test_a_factor_at_the_provider_satisfies_a_role_where_the_setting_says_so(
    selma: Person, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.SECOND_FACTOR_ROLES = ["surgeon"]
    monkeypatch.setattr("config.sign_in.hospital.asked_for_factor", lambda claims: True)
    client = Client()
    come(client)
    assert client.get(reverse("clinic")).headers["Location"] == reverse("mfa_index")
    settings.SSO_SECOND_FACTOR = True
    with_authenticator(selma)
    other = Client()
    assert come(other).headers["Location"] == reverse("home")
    assert other.get(reverse("clinic")).status_code == 200


@pytest.fixture
def held(selma: Person, settings: Any) -> Client:
    """A colleague's session that is held: the password was given, and no second factor is there."""
    settings.SECOND_FACTOR_ROLES = ["surgeon"]
    settings.SSO_SECOND_FACTOR = True
    client = Client()
    give_password(client, with_password(builders.person("connie", north="surgeon")))
    assert client.get(reverse("clinic")).headers["Location"] == reverse("mfa_index")
    return client


@pytest.mark.parametrize("process", ["redirect", "connect", "else"])
def test_nothing_but_a_sign_in_is_begun(held: Client, process: str) -> None:
    answer = held.post(
        reverse("openid_connect_login", args=["hospital-test"]), {"process": process}
    )
    assert answer.status_code == 403
    assert "does nothing else" in answer.content.decode()


@pytest.mark.parametrize("process", ["redirect", "connect", "login"])
def test_a_factor_of_one_person_never_counts_for_another(
    provider: Any, held: Client, process: str
) -> None:
    told(provider, SUBJECT, {**CLAIMS, "amr": ["mfa"]})
    address = asked(held)
    session = held.session
    # As though the way there had been begun by the library's own address.
    states = session["socialaccount_states"]
    [kept] = states.values()
    kept[0]["process"] = process
    session["socialaccount_states"] = states
    session.save()
    held.get(answered(address))
    person = Person.objects.get(pk=held.session["_auth_user_id"])
    if process == "login":
        # Whoever came is in, in a session of their own.
        assert person.username == "selma"
        assert held.session[FACTOR_THERE] == str(person.pk)
    else:
        assert person.username == "connie"
        assert FACTOR_THERE not in held.session
        assert held.get(reverse("clinic")).headers["Location"] == reverse("mfa_index")


def test_a_factor_kept_for_one_person_opens_nothing_to_another(selma: Person, held: Client) -> None:
    session = held.session
    session[FACTOR_THERE] = str(selma.pk)
    session.save()
    assert held.get(reverse("clinic")).headers["Location"] == reverse("mfa_index")


def asked_there(provider: Any, ago: int | None, **more: object) -> None:
    """Let the provider say how many seconds ago it asked, None for nothing that is a time."""
    said = None if ago is None else int(time.time()) - ago
    told(provider, SUBJECT, {**CLAIMS, "auth_time": said, **more})


@pytest.mark.usefixtures("selma")
@pytest.mark.parametrize(("ago", "done"), [(0, True), (-3600, True), (3600, False), (None, False)])
def test_a_sign_in_without_being_asked_at_the_provider_confirms_nothing(
    provider: Any, ago: int | None, done: bool
) -> None:
    asked_there(provider, ago)
    client = Client()
    come(client)
    assert (client.post(reverse("token-make"), {"days": "1"}).status_code == 200) is done
    assert AuthToken.objects.exists() is done


@pytest.mark.parametrize(
    ("claims", "when"),
    [
        ({}, 0),
        ({"auth_time": 900}, 900),
        ({"auth_time": 900.5}, 900.5),
        ({"auth_time": 2000}, 1000),
        ({"auth_time": "900"}, 0),
        ({"auth_time": True}, 0),
        ({"auth_time": -1}, 0),
        ({"auth_time": float("nan")}, 0),
    ],
)
def test_when_the_provider_asked_is_never_later_than_now(
    claims: dict[str, Any], when: float
) -> None:
    assert asked_at(claims, 1000) == when


def test_the_own_second_factor_after_coming_by_the_provider_confirms(
    provider: Any, selma: Person
) -> None:
    with_authenticator(selma)
    asked_there(provider, 3600)
    client = Client()
    come(client)
    give_code(client, code_now())
    assert client.post(reverse("token-make"), {"days": "1"}).status_code == 200


@pytest.fixture
def at_work(provider: Any, selma: Person, settings: Any) -> Client:
    """Selma, whose one factor is at the provider, which asked her an hour ago."""
    settings.SECOND_FACTOR_ROLES = ["surgeon"]
    settings.SSO_SECOND_FACTOR = True
    asked_there(provider, 3600, amr=["mfa"])
    client = Client()
    come(client)
    return client


def sent_there(client: Client) -> str:
    """Ask for a token, and return the address at the provider to which that leads."""
    asking = client.post(reverse("token-make"), {"days": "1"}).headers["Location"]
    ways = client.get(asking).context["reauthentication_alternatives"]
    [there] = [way["url"] for way in ways if way["id"] == "sso"]
    return str(client.post(there).headers["Location"])


def test_confirming_at_the_provider_goes_on_in_the_same_session(
    provider: Any, selma: Person, at_work: Client
) -> None:
    began = at_work.session[BEGAN]
    address = sent_there(at_work)
    sent = httpx.URL(address).params
    assert (sent["prompt"], sent["max_age"]) == ("login", "0")
    asked_there(provider, 0)
    assert "Your new token" in at_work.get(answered(address)).content.decode()
    assert AuthToken.objects.get().user == selma
    # Neither ended nor begun anew, and the factor of its beginning is not lost.
    assert at_work.session[BEGAN] == began
    assert at_work.get(reverse("clinic")).status_code == 200
    assert SignInEvent.objects.filter(person=selma, kind="in").count() == 1
    event = SignInEvent.objects.get(person=selma, kind="step_up")
    assert event.detail == "by the hospital's provider"
    assert at_work.post(reverse("token-make"), {"days": "1"}).status_code == 200


@pytest.mark.parametrize("ago", [3600, 60, None])
def test_a_provider_that_did_not_ask_again_confirms_nothing(
    provider: Any, at_work: Client, ago: int | None
) -> None:
    # As where somebody takes the demand out of the address.
    address = str(httpx.URL(sent_there(at_work)).copy_remove_param("prompt"))
    asked_there(provider, ago)
    answer = at_work.get(answered(address))
    assert answer.status_code == 403
    assert "nothing is confirmed" in answer.content.decode()
    assert at_work.post(reverse("token-make"), {"days": "1"}).status_code == 302
    assert not AuthToken.objects.exists()
    assert is_in(at_work)


def test_somebody_else_at_the_provider_does_not_confirm(provider: Any, at_work: Client) -> None:
    connie = builders.person("connie", north="surgeon")
    hospital_sign_in.tie(person=connie, subject="other", by=builders.person("ada"), now=NOW)
    told(provider, "other", {"auth_time": int(time.time()), "amr": ["mfa"]})
    at_work.get(answered(sent_there(at_work), "other"))
    assert at_work.get(reverse("account")).context["user"] == connie
    assert not AuthToken.objects.exists()


def test_the_sign_in_page_offers_it_where_it_is_on(provider: Any, settings: Any) -> None:
    assert "Sign in by" in Client().get(reverse("account_login")).content.decode()
    settings.SSO_ISSUER = ""
    assert "Sign in by" not in Client().get(reverse("account_login")).content.decode()
    assert Client().get(reverse("openid_connect_login", args=["hospital-test"])).status_code == 404


def test_an_administrator_ties_and_parts(provider: Any, administrator: Person) -> None:
    selma = builders.person("selma", north="surgeon")
    boss = Client()
    boss.force_login(administrator)
    where = reverse("setup-person-tie", args=[selma.pk])
    boss.post(where, {"subject": SUBJECT})
    client = Client()
    come(client)
    assert is_in(client)
    entry = AuditEntry.objects.filter(reason="the hospital's sign-in").order_by("-pk")[0]
    assert (entry.person_id, entry.after) == (administrator.pk, {"subject": SUBJECT})
    boss.post(where, {"subject": ""})
    assert not is_in(client)
    assert come(Client()).status_code == 403
