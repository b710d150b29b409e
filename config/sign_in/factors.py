"""Second factors: an authenticator's codes, passkeys, recovery codes; who needs one; what is written down."""

from typing import Any

from allauth.mfa import signals
from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.models import Authenticator
from django.conf import settings
from django.dispatch import receiver
from django.http import HttpRequest
from django.utils import timezone

from config.sign_in import secrets
from config.sign_in.hospital import has_factor_there
from registry.models.people import Person
from registry.models.sign_ins import SignInEventKind
from registry.selectors.factors import WORDS, has_factor
from registry.selectors.visible import memberships_of
from registry.services import sign_ins
from registry.views.account import where

# Kept in the session, so that not every request asks; taken away where a factor is removed.
HAS = "has_factor"


class Factors(DefaultMFAAdapter):  # type: ignore[misc]  # allauth ships no types
    """Our words, and secrets that are kept encrypted."""

    error_messages = {
        **DefaultMFAAdapter.error_messages,
        "incorrect_code": (
            "This is not the code of now. Codes change every half minute: wait for the next one. A "
            "recovery code is good for one time only."
        ),
        "cannot_generate_recovery_codes": "Set up an authenticator or a passkey first.",
    }

    def encrypt(self, text: str) -> str:
        """Return a secret as it is kept."""
        return secrets.encrypt(text)

    def decrypt(self, encrypted_text: str) -> str:
        """Return a kept secret."""
        return secrets.decrypt(encrypted_text)

    def generate_authenticator_name(self, user: Person, type: str) -> str:
        """Name a passkey until its owner does."""
        number = Authenticator.objects.filter(user_id=user.pk, type=type).count() + 1
        return f"Passkey {number}"

    def get_public_key_credential_rp_entity(self) -> dict[str, str]:
        """Name the service as a passkey shows it."""
        entity: dict[str, str] = super().get_public_key_credential_rp_entity()
        return {**entity, "name": "Holdfast"}

    def _get_user_identifier(self, user: Person) -> str:
        return user.username


def needs_factor(request: HttpRequest) -> bool:
    """Say whether whoever is signed in has a role that needs a second factor, and none yet."""
    user: Any = request.user
    if not settings.SECOND_FACTOR_ROLES or request.session.get(HAS):
        return False
    if has_factor_there(request):
        return False
    held = frozenset[str]().union(*memberships_of(user, timezone.localdate()).values())
    if held.isdisjoint(settings.SECOND_FACTOR_ROLES):
        return False
    request.session[HAS] = has_factor(user)
    return not request.session[HAS]


@receiver(signals.authenticator_added, dispatch_uid="factor-added")
def added(request: HttpRequest, user: Person, authenticator: Authenticator, **given: Any) -> None:
    """Write down that a factor is there."""
    if authenticator.type != Authenticator.Type.RECOVERY_CODES:
        _write(SignInEventKind.FACTOR_ADDED, request, user, WORDS[authenticator.type])


@receiver(signals.authenticator_removed, dispatch_uid="factor-removed")
def removed(request: HttpRequest, user: Person, authenticator: Authenticator, **given: Any) -> None:
    """Write down that a factor is gone, and ask anew whether one is there."""
    request.session.pop(HAS, None)
    _write(SignInEventKind.FACTOR_REMOVED, request, user, WORDS[authenticator.type])


@receiver(signals.authenticator_reset, dispatch_uid="codes-made")
def made_codes(request: HttpRequest, user: Person, **given: Any) -> None:
    """Write down that there are new recovery codes."""
    _write(SignInEventKind.CODES_MADE, request, user)


@receiver(signals.authentication_failed, dispatch_uid="code-failed")
def failed(request: HttpRequest, user: Person, **given: Any) -> None:
    """Write down a wrong code of somebody who had the password right."""
    _write(SignInEventKind.CODE_FAILED, request, user)


def _write(kind: SignInEventKind, request: HttpRequest, user: Person, detail: str = "") -> None:
    sign_ins.write_down(kind, person=user, now=timezone.now(), where=where(request), detail=detail)
