"""Ends a session that nobody uses or that is too old, and knows where people are signed in."""

from collections.abc import Callable
from typing import Any

from allauth.usersessions.models import UserSession
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import logout
from django.contrib.auth.signals import user_logged_in, user_logged_out
from django.dispatch import receiver
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from registry.models.sign_ins import SignInEventKind
from registry.services import sign_ins
from registry.views.account import where
from registry.views.step_up import BEGAN

SEEN = "seen"
# Written down no more often, or each request of a page would write.
WRITTEN_EVERY_SECONDS = 60
# What a page asks by itself, again and again, is no sign of a person in front of it.
UNATTENDED = "X-Unattended"
AGENT_LETTERS = UserSession._meta.get_field("user_agent").max_length


class watch:  # noqa: N801 - used as a middleware factory, like a function
    """End what is idle or old before anything is answered, and keep when somebody was last there."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        """Keep the next layer."""
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Look at the session of whoever is signed in, and pass the request on."""
        if request.user.is_authenticated:
            now = timezone.now().timestamp()
            why = _ended_by(request, now)
            if why:
                _end(request, why)
            elif now - request.session.get(SEEN, 0) >= WRITTEN_EVERY_SECONDS:
                _seen(request, request.user)
        answer = self.get_response(request)
        if getattr(request, "went", False):
            # Not the cookies: that of a known browser opens nothing, and spares its owner a wait.
            answer.headers["Clear-Site-Data"] = '"cache", "storage"'
        return answer


@receiver(user_logged_in, dispatch_uid="session-begins")
def begins(sender: Any, request: HttpRequest, user: Any, **given: Any) -> None:
    """Keep when a session began, and from where."""
    _seen(request, user, begins=True)


@receiver(user_logged_out, dispatch_uid="session-ends")
def ends(sender: Any, request: HttpRequest, user: Any, **given: Any) -> None:
    """Write down that somebody went; why, where it was not by themself."""
    if user is None:
        return
    request.went = True  # type: ignore[attr-defined]  # told to the watch
    why = getattr(request, "ended_by", "")
    kind = SignInEventKind.IDLE if why else SignInEventKind.OUT
    sign_ins.write_down(kind, person=user, now=timezone.now(), where=where(request), detail=why)


def renew(request: HttpRequest) -> None:
    """Give a session another name, so that whoever had learnt the former has nothing of what follows."""
    former = request.session.session_key
    request.session.cycle_key()
    kept = {"session_key": request.session.session_key}
    UserSession.objects.filter(session_key=former).update(**kept)


def _ended_by(request: HttpRequest, now: float) -> str:
    idle = now - request.session.get(SEEN, now)
    age = now - request.session.get(BEGAN, now)
    if idle > settings.IDLE_SECONDS:
        return f"unused for {round(idle / 60)} minutes"
    if age > settings.SESSION_COOKIE_AGE:
        return f"{age / 3600:.0f} hours old"
    return ""


def _end(request: HttpRequest, why: str) -> None:
    request.ended_by = why  # type: ignore[attr-defined]  # told to the receiver
    UserSession.objects.filter(session_key=request.session.session_key).delete()
    logout(request)
    messages.info(request, f"You were signed out: this session was {why}. Sign in to go on.")


def _seen(request: HttpRequest, user: Any, *, begins: bool = False) -> None:
    # Only what has begun can go on unattended: who says so at the start is not believed.
    if UNATTENDED in request.headers and not begins and BEGAN in request.session:
        return
    now, came = timezone.now(), where(request)
    if begins or BEGAN not in request.session:
        request.session[BEGAN] = now.timestamp()
    request.session[SEEN] = now.timestamp()
    if request.session.session_key is None:
        # Somebody else was signed in here: their session was emptied and has no name yet.
        request.session.save()
    UserSession.objects.update_or_create(
        session_key=request.session.session_key,
        defaults={
            "user": user,
            "ip": came.address,
            "user_agent": came.agent[:AGENT_LETTERS],
            "last_seen_at": now,
        },
    )
