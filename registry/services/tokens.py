"""Tokens with which a person's programs sign in: made and revoked by that person."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from knox.models import AuthToken

from registry.errors import BadInput
from registry.models.people import Person

LIFETIMES = {1: "a day", 30: "30 days", 90: "90 days", 365: "a year"}
MOST = 10
SHOWN = 8


@dataclass(frozen=True)
class Token:
    """A token as it may be shown: its beginning, never the whole."""

    begins: str
    made_at: datetime
    expires_at: datetime


def make_token(*, person: Person, days: int, now: datetime) -> str:
    """Make a token that lasts some days; return it whole, for the only time: it is kept hashed.

    Raises BadInput for a lifetime that is not offered, and when the person has too many already.
    """
    if days not in LIFETIMES:
        raise BadInput({"days": f"A token lasts {', '.join(LIFETIMES.values())}; choose one."})
    if len(live_tokens(person=person, now=now)) >= MOST:
        raise BadInput(f"You have {MOST} tokens already; revoke one that is no longer used.")
    made: tuple[AuthToken, str] = AuthToken.objects.create(user=person, expiry=timedelta(days=days))
    return made[1]


def live_tokens(*, person: Person, now: datetime) -> list[Token]:
    """Return the tokens of a person that still sign in, the newest first."""
    rows = AuthToken.objects.filter(user=person, expiry__gt=now).order_by("-created")
    return [Token(row.token_key[:SHOWN], row.created, row.expiry) for row in rows]


def revoke_token(*, person: Person, begins: str) -> int:
    """Let a token of the person sign in no more; return how many began so."""
    if len(begins) != SHOWN:
        return 0
    rows = AuthToken.objects.filter(user=person, token_key__startswith=begins)
    revoked: int = rows.count()
    rows.delete()
    return revoked
