"""How people sign in: nobody signs up, guessers wait, and what happens at the door is written down."""

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.forms import ChangePasswordForm
from allauth.account.signals import authentication_step_completed
from allauth.core import context
from django.conf import settings
from django.core.exceptions import ValidationError
from django.dispatch import receiver
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone

from config.sign_in import hospital, known_devices
from config.sign_in.sessions import renew
from registry.models.people import Person
from registry.models.sign_ins import SignInEventKind
from registry.rules import sign_in_waits
from registry.services import passwords, sign_ins
from registry.services.hospital_sign_in import subject_of
from registry.views.account import where
from registry.views.step_up import BY_PROVIDER, is_confirmed

METHODS = {
    "password": "the password",
    "mfa": "the second factor",
    BY_PROVIDER: "the hospital's provider",
}


class ClosedAdapter(DefaultAccountAdapter):  # type: ignore[misc]  # allauth ships no types
    """Closes self-registration, and puts our own watch in the place of the library's limits.

    The library counts failures for each account wherever they come from, so that anybody who knows
    a name can shut its owner out for five minutes, again and again.
    """

    error_messages = {
        **DefaultAccountAdapter.error_messages,
        "username_password_mismatch": (
            "The user name and the password do not fit together. Look at capitals, and try again."
        ),
        "incorrect_password": "This is not your password. Look at capitals, and try again.",
        "too_many_login_attempts": (
            "There were too many wrong codes. Wait five minutes and try again."
        ),
    }

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Refuse every sign-up."""
        return False

    def get_client_ip(self, request: HttpRequest) -> str:
        """Return the address of whoever asks, as our own proxies saw it."""
        return where(request).address

    def pre_authenticate(self, request: HttpRequest, **credentials: Any) -> None:
        """Count the try before the password is looked at, and refuse it where a wait is on."""
        name = str(credentials.get("username", ""))
        self.tried = sign_ins.begin_try(
            name=name,
            address=where(request).address,
            device=known_devices.mark_of(request, name),
            now=timezone.now(),
        )
        if self.tried.wait:
            raise _wait(self.tried)

    def authenticate(self, request: HttpRequest, **credentials: Any) -> Any:
        """Return who has the name and the password, None for nobody.

        Raises ValidationError while there is a wait for such tries.
        """
        person = super().authenticate(request, **credentials)
        if person is not None:
            sign_ins.try_succeeded(self.tried)
        return person

    def authentication_failed(self, request: HttpRequest, **credentials: Any) -> None:
        """Write a failure down, without what was typed, and say where it was one too many."""
        name = str(credentials.get("username", ""))
        person = Person.objects.filter(username__iexact=name).first() if name else None
        wait = sign_ins.wait_after(self.tried)
        sign_ins.write_down(
            SignInEventKind.HELD if wait else SignInEventKind.FAILED,
            person=person,
            now=timezone.now(),
            where=where(request),
            detail=f"for {sign_in_waits.in_words(wait)}" if wait else "",
        )

    def respond_user_inactive(self, request: HttpRequest, user: Person) -> HttpResponse:
        """Say to somebody with the right password that they may not come in."""
        sign_ins.write_down(
            SignInEventKind.REFUSED, person=user, now=timezone.now(), where=where(request)
        )
        answer: HttpResponse = super().respond_user_inactive(request, user)
        return answer

    def post_login(self, request: HttpRequest, user: Person, **given: Any) -> HttpResponse:
        """Know the browser again the next time, and keep what the hospital's provider told."""
        hospital.came_in(request, user, (given["signal_kwargs"] or {}).get("sociallogin"))
        answer: HttpResponse = super().post_login(request, user, **given)
        known_devices.remember(request, answer, user.username)
        sign_ins.write_down(
            SignInEventKind.IN, person=user, now=timezone.now(), where=where(request)
        )
        return answer

    def is_reauthentication_required(self, *, app: str, **given: Any) -> bool:
        """Say whether the library's own pages about factors ask once more who it is."""
        return not is_confirmed(context.request)

    def get_login_stages(self) -> list[str]:
        """Return what is asked for after the first factor; nothing more where the provider did."""
        stages: list[str] = super().get_login_stages()
        if hospital.asks_for_no_more(context.request):
            return [stage for stage in stages if not stage.startswith("allauth.mfa.")]
        return stages

    def get_reauthentication_methods(self, user: Person) -> list[dict[str, Any]]:
        """Return the ways to confirm who one is, the hospital's provider among them."""
        ways: list[dict[str, Any]] = super().get_reauthentication_methods(user)
        if user.is_authenticated and settings.SSO_ISSUER and subject_of(user):
            url = reverse("openid_connect_login", args=[settings.SSO_PROVIDER_ID])
            ways.append({"id": "sso", "description": f"Use {settings.SSO_NAME}", "url": url})
        return ways

    def set_password(self, user: Person, password: str) -> None:
        """Keep a password that somebody chose for themself."""
        passwords.choose_password(person=user, password=password)

    def get_password_change_redirect_url(self, request: HttpRequest) -> str:
        """Lead on to the person's own room."""
        person: Any = request.user
        sign_ins.write_down(
            SignInEventKind.PASSWORD, person=person, now=timezone.now(), where=where(request)
        )
        url: str = self.get_login_redirect_url(request)
        return url


class ChangePassword(ChangePasswordForm):  # type: ignore[misc]  # allauth ships no types
    """A new password, twice, and the present one; it has to be another than that."""

    def clean(self) -> dict[str, Any]:
        """Raise ValidationError where nothing would change."""
        cleaned: dict[str, Any] = super().clean() or {}
        if cleaned.get("password1") and cleaned.get("password1") == cleaned.get("oldpassword"):
            self.add_error("password1", "This is the present password; choose another one.")
        return cleaned


@receiver(authentication_step_completed, dispatch_uid="confirmed")
def confirmed(request: HttpRequest, user: Person, method: str, **given: Any) -> None:
    """Write down that somebody who is signed in has confirmed who they are."""
    if given.get("reauthenticated"):
        renew(request)
        sign_ins.write_down(
            SignInEventKind.STEP_UP,
            person=user,
            now=timezone.now(),
            where=where(request),
            detail=f"by {METHODS.get(method, method)}",
        )


def _wait(tried: sign_ins.Try) -> ValidationError:
    return ValidationError(
        "There were too many tries. Wait "
        f"{sign_in_waits.in_words(tried.wait)} and try again; from a browser in which you have "
        "signed in before you do not wait for what others try.",
        code="too_many_login_attempts",
    )
