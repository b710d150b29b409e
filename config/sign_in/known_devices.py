"""The browsers in which somebody has signed in before: a signed cookie, which opens nothing by itself.

It only says that failures of others do not count here (`registry/rules/sign_in_waits.py`). A browser
that several people share carries one mark for each of the last ones.
"""

import secrets
from typing import Any

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse

from registry.services.sign_ins import account_key

COOKIE, SALT = f"{settings.HOST_COOKIE}known_device", "config.sign-in.known-devices"
MOST_ACCOUNTS = 8
MARK_BYTES = 16


def mark_of(request: HttpRequest, name: str) -> str:
    """Return the mark that this browser carries for a user name, '' where it carries none."""
    return _marks(request).get(account_key(name), "")


def remember(request: HttpRequest, answer: HttpResponse, name: str) -> None:
    """Give the browser a mark for a user name, or keep the one that it has."""
    key, marks = account_key(name), _marks(request)
    mark = marks.pop(key, "") or secrets.token_urlsafe(MARK_BYTES)
    kept = dict([*marks.items(), (key, mark)][-MOST_ACCOUNTS:])
    answer.set_cookie(
        COOKIE,
        signing.dumps(kept, salt=SALT),
        max_age=settings.KNOWN_DEVICE_SECONDS,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )


def _marks(request: HttpRequest) -> dict[str, str]:
    try:
        read: Any = signing.loads(
            request.COOKIES.get(COOKIE, ""), salt=SALT, max_age=settings.KNOWN_DEVICE_SECONDS
        )
    except signing.BadSignature:
        return {}
    return read if isinstance(read, dict) else {}
