"""Where people are signed in, and how that ends: by themselves, by an administrator, by time."""

from collections import Counter
from collections.abc import Iterable
from datetime import datetime

from allauth.usersessions.models import UserSession
from django.contrib.sessions.models import Session
from django.db import transaction
from knox.models import AuthToken

from registry import notices
from registry.models.people import Person
from registry.models.sign_ins import SignInEventKind
from registry.services import sign_ins
from registry.services.sign_ins import Where


def end_one(*, person: Person, session_id: int, now: datetime, where: Where) -> int:
    """End one session of a person, told by themself; return 0 where there is no such one."""
    return _end(UserSession.objects.filter(user=person, pk=session_id), person, now, where)


def end_others(*, person: Person, but: str, now: datetime, where: Where) -> int:
    """End every session of a person but the one with this key; return how many."""
    others = UserSession.objects.filter(user=person).exclude(session_key=but)
    return _end(others, person, now, where)


def end_all(*, person: Person, by: Person, now: datetime) -> int:
    """End every session of a person, told by somebody else; return how many."""
    return _end(UserSession.objects.filter(user=person), person, now, None, by=by)


def shut_out(*, person: Person, by: Person, now: datetime) -> tuple[int, int]:
    """End every session of a person and revoke every token, at once; return how many of each.

    The rooms above take away what they have given out. Whoever is about to ask is not known any more; nothing has to run out first.
    """
    with transaction.atomic():
        sessions = end_all(person=person, by=by, now=now)
        tokens: int = AuthToken.objects.filter(user=person).count()
        AuthToken.objects.filter(user=person).delete()
        if tokens:
            sign_ins.write_down(
                SignInEventKind.TOKEN_REVOKED,
                person=person,
                by=by,
                now=now,
                detail=f"all {tokens}",
            )
        notices.person_shut_out.send(sender=Person, person=person, by=by, now=now)
    return sessions, tokens


def end_everything(*, now: datetime) -> tuple[int, int]:
    """End every session and revoke every token of everybody; return how many of each.

    For records that were put back from a copy: what has been ended or revoked since is in it.
    """
    with transaction.atomic():
        held = Counter(token.user for token in AuthToken.objects.select_related("user"))
        for person, many in held.items():
            sign_ins.write_down(
                SignInEventKind.TOKEN_REVOKED, person=person, now=now, detail=f"all {many}"
            )
        AuthToken.objects.all().delete()
        sessions = UserSession.objects.count()
        UserSession.objects.all().delete()
        Session.objects.all().delete()
    return sessions, held.total()


def forget_ended(*, now: datetime) -> int:
    """Delete what is left of sessions that have run out; return how many there were."""
    Session.objects.filter(expire_date__lt=now).delete()
    there = Session.objects.values("session_key")
    gone: int = UserSession.objects.exclude(session_key__in=there).delete()[0]
    return gone


def _end(
    rows: Iterable[UserSession],
    person: Person,
    now: datetime,
    where: Where | None,
    by: Person | None = None,
) -> int:
    keys = [row.session_key for row in rows]
    if not keys:
        return 0
    with transaction.atomic():
        Session.objects.filter(session_key__in=keys).delete()
        UserSession.objects.filter(session_key__in=keys).delete()
        sign_ins.write_down(
            SignInEventKind.ENDED,
            person=person,
            by=by,
            now=now,
            where=where,
            detail="one session" if len(keys) == 1 else f"{len(keys)} sessions",
        )
    return len(keys)
