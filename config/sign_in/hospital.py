"""Signing in at the hospital's own provider by OpenID Connect, where the settings switch it on.

A person is found by the provider's subject that an administrator tied to them, or once, where the
settings allow it, by a claim with their user name. Nobody is created, and no role is taken from it.
What the library leaves out is done here: the issuer is the one in the settings and no other, the
signature is checked, and the answer carries the nonce that was sent (OpenID Connect Core 1.0, 3.1.3.7).
"""

import secrets
from hmac import compare_digest
from typing import Any

import jwt
from allauth.account.internal.flows.login import record_authentication
from allauth.account.internal.flows.reauthentication import resume_request
from allauth.core.exceptions import ImmediateHttpResponse
from allauth.socialaccount.adapter import DefaultSocialAccountAdapter, get_adapter
from allauth.socialaccount.models import SocialApp, SocialLogin
from allauth.socialaccount.providers.base import AuthProcess
from allauth.socialaccount.providers.oauth2.client import OAuth2Error
from allauth.socialaccount.providers.oauth2.views import OAuth2CallbackView, OAuth2LoginView
from allauth.socialaccount.providers.openid_connect.provider import OpenIDConnectProvider
from allauth.socialaccount.providers.openid_connect.views import OpenIDConnectOAuth2Adapter
from django.conf import settings
from django.contrib.auth import REDIRECT_FIELD_NAME
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from requests import RequestException

from registry.models.people import Person
from registry.models.sign_ins import SignInEventKind
from registry.services import hospital_sign_in, sign_ins
from registry.views.account import where
from registry.views.step_up import ASKED_THERE, BY_PROVIDER

NONCE = "hospital_nonce"
# Signatures with a key of the provider alone; never with the secret that both know, and never none.
ALGORITHMS = ["RS256", "RS384", "RS512", "PS256", "PS384", "PS512", "ES256", "ES384", "EdDSA"]
LEEWAY_SECONDS = 30
# Kept in the session: for whom the provider says that it asked for a second factor, which counts here.
FACTOR_THERE = "factor_at_the_provider"
# Kept with one sign-in until it has happened, however many steps that takes.
TOLD_OF_FACTOR = "told_of_factor"
ASKED_AT = "asked_at"
# Kept with what was sent to the provider: since when it has to have asked whoever is signed in here.
TO_ASK_SINCE = "to_ask_since"
UNKNOWN = (
    "The hospital's provider knows you, and this service does not. Ask an administrator to tie your "
    "sign-in there to the one here."
)
FAILED = (
    "The hospital's provider gave no answer that can be trusted. Try again, or use your password."
)
NOT_ASKED = (
    "The hospital's provider did not say that it has just asked who you are, so nothing is confirmed. "
    "Try again, or confirm by your password or your second factor."
)
ONLY_SIGNS_IN = "This address signs somebody in, and does nothing else."


class HospitalSignIn(OpenIDConnectOAuth2Adapter):  # type: ignore[misc]  # allauth ships no types
    """Asks the provider of the settings, and trusts its answer alone."""

    def get_provider(self) -> Any:
        """Return our provider for the application in the settings."""
        return HospitalProvider(self.request, app=super().get_provider().app)

    @property
    def openid_config(self) -> Any:
        """Return what the provider says of itself; raises OAuth2Error for another issuer."""
        config = super().openid_config
        if config["issuer"].rstrip("/") != settings.SSO_ISSUER:
            raise OAuth2Error("The provider calls itself another issuer than the settings do.")
        return config

    def complete_login(
        self, request: HttpRequest, app: SocialApp, token: Any, **given: Any
    ) -> SocialLogin:
        """Return who came, by the signed token alone; raises OAuth2Error without one."""
        if not given["response"].get("id_token"):
            raise OAuth2Error("The provider sent no ID token.")
        login = super().complete_login(request, app, token, **given)
        # Claims are read while somebody signs in, and not kept.
        login.claims = login.account.extra_data.get("id_token", {})
        login.account.extra_data = {}
        return login

    def _decode_id_token(self, app: SocialApp, id_token: str) -> dict[str, Any]:
        """Return the claims of a token that was signed, for us, now, as an answer to what we sent.

        The library takes a token that came straight from the provider unsigned. Raises OAuth2Error.
        """
        try:
            data: dict[str, Any] = jwt.decode(
                id_token,
                key=self._key(jwt.get_unverified_header(id_token).get("kid")),
                algorithms=ALGORITHMS,
                audience=app.client_id,
                issuer=self.openid_config["issuer"],
                leeway=LEEWAY_SECONDS,
                options={"require": ["iss", "sub", "aud", "exp", "iat"]},
            )
        except jwt.PyJWTError as fault:
            raise OAuth2Error("The ID token is none that we can trust.") from fault
        sent = self.request.session.pop(NONCE, "")
        if not sent or not compare_digest(sent, str(data.get("nonce", ""))):
            raise OAuth2Error("The ID token answers another question than was asked.")
        return data

    def _key(self, named: str | None) -> Any:
        with get_adapter().get_requests_session() as line:
            answer = line.get(self.openid_config["jwks_uri"])
            answer.raise_for_status()
        keys = [one for one in answer.json()["keys"] if named is None or one.get("kid") == named]
        # Only where there is one key alone does a token not have to name it.
        if len(keys) != 1:
            raise OAuth2Error("The provider has no key by the name in the ID token.")
        return jwt.PyJWK.from_dict(keys[0], algorithm=keys[0].get("alg", ALGORITHMS[0]))


class HospitalProvider(OpenIDConnectProvider):  # type: ignore[misc]  # allauth ships no types
    """Sends a nonce, and lets nobody add to what is sent."""

    oauth2_adapter_class = HospitalSignIn

    def get_redirect_from_request_kwargs(self, request: HttpRequest) -> dict[str, Any]:
        """Return how to go there; raises ImmediateHttpResponse for all but a sign-in.

        The library lets whoever asks connect an account or only come back, into a session that may be
        another's.
        """
        kept: dict[str, Any] = super().get_redirect_from_request_kwargs(request)
        _only_signs_in(request, kept)
        if request.user.is_authenticated:
            kept[TO_ASK_SINCE] = timezone.now().timestamp()
        return kept

    def get_auth_params_from_request(self, request: HttpRequest, action: str) -> dict[str, str]:
        """Return what is sent beside the usual: a nonce, and whether to ask whoever is there again."""
        request.session[NONCE] = secrets.token_urlsafe(24)
        # With max_age the provider has to say when it asked (OpenID Connect Core 1.0, 2).
        again = {"prompt": "login", "max_age": "0"} if request.user.is_authenticated else {}
        return {"nonce": request.session[NONCE], **again}

    def get_scope_from_request(self, request: HttpRequest) -> list[str]:
        """Return what is asked for."""
        return ["openid", "profile"]


class Tied(DefaultSocialAccountAdapter):  # type: ignore[misc]  # allauth ships no types
    """Lets in whom an administrator tied, and makes nobody."""

    def is_open_for_signup(self, request: HttpRequest, sociallogin: SocialLogin) -> bool:
        """Refuse every sign-up."""
        return False

    def pre_social_login(self, request: HttpRequest, sociallogin: SocialLogin) -> None:
        """Find the person; raises ImmediateHttpResponse with a page for somebody unknown.

        Also where whoever is signed in only confirms: their session goes on, and so does what they
        wanted.
        """
        # What was begun otherwise, by a release before, is not gone on with.
        _only_signs_in(request, sociallogin.state)
        claims = getattr(sociallogin, "claims", {})
        asked = asked_at(claims, timezone.now().timestamp())
        since = sociallogin.state.get(TO_ASK_SINCE)
        if since is not None and asked < since - LEEWAY_SECONDS:
            raise ImmediateHttpResponse(_refused(request, NOT_ASKED))
        if not sociallogin.is_existing:
            person = self._by_name(claims)
            if person is None:
                sign_ins.write_down(
                    SignInEventKind.REFUSED,
                    person=None,
                    now=timezone.now(),
                    where=where(request),
                    detail="known to the hospital's provider alone",
                )
                raise ImmediateHttpResponse(_refused(request, UNKNOWN))
            sociallogin.account = hospital_sign_in.tie(
                person=person, subject=sociallogin.account.uid, by=None, now=timezone.now()
            )
            sociallogin.user = person
        # Of this one sign-in; the session learns it when that has happened.
        sociallogin.state[TOLD_OF_FACTOR] = settings.SSO_SECOND_FACTOR and asked_for_factor(claims)
        sociallogin.state[ASKED_AT] = asked
        if since is not None and request.user == sociallogin.user:
            raise ImmediateHttpResponse(_confirmed(request, sociallogin))
        request.came_by = sociallogin  # type: ignore[attr-defined]  # read while steps are left out

    def on_authentication_error(self, request: HttpRequest, provider: Any, **given: Any) -> None:
        """Say in our words that it failed; raises ImmediateHttpResponse with that page."""
        raise ImmediateHttpResponse(_refused(request, FAILED))

    def _by_name(self, claims: dict[str, Any]) -> Person | None:
        name = (
            str(claims.get(settings.SSO_USERNAME_CLAIM, "")) if settings.SSO_USERNAME_CLAIM else ""
        )
        return hospital_sign_in.untied(name) if name else None


def asks_for_no_more(request: HttpRequest) -> bool:
    """Say whether this request brings somebody of whom the provider asked a second factor."""
    login = getattr(request, "came_by", None)
    return bool(login and login.state.get(TOLD_OF_FACTOR))


def came_in(request: HttpRequest, person: Person, sociallogin: SocialLogin | None) -> None:
    """Keep in the session of whoever has just signed in what the provider told of them."""
    if sociallogin is None or sociallogin.user.pk != person.pk:
        return
    request.session[ASKED_THERE] = sociallogin.state.get(ASKED_AT, 0)
    if sociallogin.state.get(TOLD_OF_FACTOR):
        request.session[FACTOR_THERE] = str(person.pk)


def has_factor_there(request: HttpRequest) -> bool:
    """Say whether the provider asked whoever is signed in for a second factor, and nobody else."""
    return bool(request.user.pk) and request.session.get(FACTOR_THERE) == str(request.user.pk)


def asked_at(claims: dict[str, Any], now: float) -> float:
    """Return when the provider says that it asked who somebody is, 0 where it does not say.

    A clock there that goes before ours makes nothing last longer.
    """
    said = claims.get("auth_time")
    if isinstance(said, bool) or not isinstance(said, int | float) or not said > 0:
        return 0
    return min(said, now)


def asked_for_factor(claims: dict[str, Any]) -> bool:
    """Say whether the provider's claims tell of a second factor (RFC 8176, 'mfa'; or an acr of ours)."""
    methods = claims.get("amr") or []
    named = [methods] if isinstance(methods, str) else list(methods)
    return "mfa" in named or claims.get("acr") in settings.SSO_FACTOR_ACR


@login_not_required
def begin(request: HttpRequest, provider_id: str) -> HttpResponse:
    """Lead to the provider."""
    return _through(OAuth2LoginView, request, provider_id)


@login_not_required
def back(request: HttpRequest, provider_id: str) -> HttpResponse:
    """Take the provider's answer."""
    return _through(OAuth2CallbackView, request, provider_id)


def _through(view: Any, request: HttpRequest, provider_id: str) -> HttpResponse:
    if not settings.SSO_ISSUER or provider_id != settings.SSO_PROVIDER_ID:
        raise Http404
    try:
        answer: HttpResponse = view.adapter_view(HospitalSignIn(request, provider_id))(request)
    except (OAuth2Error, RequestException):
        # The provider is not there, or is not who the settings say: found before anything is asked.
        return _refused(request, FAILED)
    return answer


def _only_signs_in(request: HttpRequest, state: dict[str, Any]) -> None:
    if state["process"] != AuthProcess.LOGIN:
        raise ImmediateHttpResponse(_refused(request, ONLY_SIGNS_IN))


def _confirmed(request: HttpRequest, sociallogin: SocialLogin) -> HttpResponse:
    """Go on with what was wanted, for whoever confirmed at the provider in the session they have."""
    record_authentication(request, request.user, BY_PROVIDER, reauthenticated=True)
    came_in(request, sociallogin.user, sociallogin)
    wanted = sociallogin.get_redirect_url(request) or reverse("home")
    # Where the library looks for it; its own ways to confirm end in a form that was sent with it.
    request.GET = QueryDict(urlencode({REDIRECT_FIELD_NAME: wanted}))
    answer: HttpResponse = resume_request(request)
    return answer


def _refused(request: HttpRequest, message: str) -> HttpResponse:
    return render(request, "account/hospital_refused.html", {"message": message}, status=403)
