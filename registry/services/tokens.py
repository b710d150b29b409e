"""Tokens with which a person's programs sign in: made and revoked by that person."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from knox.models import AuthToken

from registry.errors import BadInput
from registry.models.people import Person
from registry.models.tokens import TokenScope
from registry.selectors.visible import site_ids

LIFETIMES = {1: "a day", 30: "30 days", 90: "90 days", 365: "a year"}
MOST = 10
KEPT_EVERY = timedelta(minutes=1)
SHOWN = 8


@dataclass(frozen=True)
class Token:
    """A token as it may be shown: its beginning, never the whole."""

    begins: str
    made_at: datetime
    expires_at: datetime
    writes: bool
    everywhere: bool
    sites: tuple[str, ...]
    used_at: datetime | None


@dataclass(frozen=True)
class Scope:
    """What a token may do: whether it writes, and at which sites of the person; None for all."""

    writes: bool = True
    sites: frozenset[int] | None = None


WHOLE = Scope()


def make_token(*, person: Person, days: int, now: datetime, scope: Scope = WHOLE) -> str:
    """Make a token that lasts some days; return it whole, for the only time: it is kept hashed.

    Raises BadInput for a lifetime that is not offered, for sites that are none of the person's, and
    when the person has too many already.
    """
    if days not in LIFETIMES:
        raise BadInput({"days": f"A token lasts {', '.join(LIFETIMES.values())}; choose one."})
    if scope.sites is not None and (
        not scope.sites or not scope.sites <= set(site_ids(person, "use_api"))
    ):
        raise BadInput({"sites": "Choose among your own sites, one or more, or all of them."})
    with transaction.atomic():
        # Two at once would each count the other's as not there.
        Person.objects.select_for_update(no_key=True).get(pk=person.pk)
        if len(live_tokens(person=person, now=now)) >= MOST:
            raise BadInput(f"You have {MOST} tokens already; revoke one that is no longer used.")
        made: tuple[AuthToken, str] = AuthToken.objects.create(
            user=person, expiry=timedelta(days=days)
        )
        row = TokenScope.objects.create(
            token=made[0], writes=scope.writes, everywhere=scope.sites is None
        )
        row.sites.set(scope.sites or ())
    return made[1]


def use_token(*, token: AuthToken, now: datetime) -> Scope:
    """Return what a token may do, and keep when it was used, once a minute at most."""
    row = TokenScope.objects.filter(token=token).first()
    if row is None:
        return WHOLE
    if row.last_used_at is None or now - row.last_used_at >= KEPT_EVERY:
        TokenScope.objects.filter(pk=row.pk).update(last_used_at=now)
    sites = None if row.everywhere else frozenset(row.sites.values_list("pk", flat=True))
    return Scope(row.writes, sites)


def live_tokens(*, person: Person, now: datetime) -> list[Token]:
    """Return the tokens of a person that still sign in, the newest first."""
    rows = AuthToken.objects.filter(user=person, expiry__gt=now).order_by("-created")
    return [_shown(row) for row in rows.select_related("scope").prefetch_related("scope__sites")]


def revoke_token(*, person: Person, begins: str) -> int:
    """Let a token of the person sign in no more; return how many began so."""
    if len(begins) != SHOWN:
        return 0
    rows = AuthToken.objects.filter(user=person, token_key__startswith=begins)
    revoked: int = rows.count()
    rows.delete()
    return revoked


def _shown(row: AuthToken) -> Token:
    scope: TokenScope | None = getattr(row, "scope", None)
    return Token(
        begins=row.token_key[:SHOWN],
        made_at=row.created,
        expires_at=row.expiry,
        writes=scope.writes if scope else True,
        everywhere=scope.everywhere if scope else True,
        sites=tuple(str(site) for site in scope.sites.all()) if scope else (),
        used_at=scope.last_used_at if scope else None,
    )
