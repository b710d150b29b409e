"""Where somebody is signed in now."""

from dataclasses import dataclass
from datetime import datetime

from allauth.usersessions.models import UserSession
from django.contrib.sessions.models import Session

from registry.models.people import Person
from registry.rules import browsers


@dataclass(frozen=True)
class OpenSession:
    """One browser in which somebody is signed in."""

    number: int
    browser: str
    address: str
    began_at: datetime
    seen_at: datetime
    is_this: bool


def open_sessions(person: Person, *, now: datetime, this: str = "") -> list[OpenSession]:
    """Return the sessions of a person that have not ended, the last seen first.

    `this` is the key of the session in which that is asked.
    """
    there = Session.objects.filter(expire_date__gt=now).values("session_key")
    rows = UserSession.objects.filter(user=person, session_key__in=there)
    return [
        OpenSession(
            number=row.pk,
            browser=browsers.browser_in_words(row.user_agent),
            address=row.ip,
            began_at=row.created_at,
            seen_at=row.last_seen_at,
            is_this=row.session_key == this,
        )
        for row in rows.order_by("-last_seen_at", "-pk")
    ]
