"""The watch over the door: counting failed tries, making guessers wait, writing down what happened."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import F
from django.utils.crypto import salted_hmac

from registry.models.people import Person
from registry.models.retention import RetentionKind
from registry.models.sign_ins import SignInEvent, SignInEventKind, SignInTry
from registry.rules import addresses, browsers, sign_in_waits
from registry.rules.sign_in_waits import ACCOUNT, ADDRESS, DEVICE, PAIR
from registry.services import retention

SALT = "registry.sign-ins"


@dataclass(frozen=True)
class Where:
    """From where somebody comes: their address and what their browser calls itself."""

    address: str = addresses.UNKNOWN
    agent: str = ""


@dataclass(frozen=True)
class Try:
    """One try to sign in, counted as failed until it has succeeded; `wait` is zero where it is heard."""

    keys: Mapping[str, str]
    wait: timedelta = timedelta(0)


def account_key(name: str) -> str:
    """Return a keyed hash that stands for whatever is typed as one user name."""
    return _hash("account", sign_in_waits.same_account(name))


def begin_try(*, name: str, address: str, device: str, now: datetime) -> Try:
    """Count a try to sign in under a name, or say how long it has to wait; a wait counts nothing.

    `device` is what a browser carries in which this name has signed in before, '' for a strange one.
    Counted before the password is looked at, so that many tries at once count as many.
    """
    keys = _keys(name, address, device)
    with transaction.atomic():
        SignInTry.objects.bulk_create(
            [SignInTry(kind=kind, key=key, last_at=now) for kind, key in keys.items()],
            ignore_conflicts=True,
        )
        # In one order, so that two tries never wait for each other.
        rows = list(
            SignInTry.objects.select_for_update().filter(key__in=keys.values()).order_by("key")
        )
        wait = max(
            sign_in_waits.still_to_wait(row.kind, row.failures, now - row.last_at) for row in rows
        )
        if wait:
            return Try(keys, wait)
        for row in rows:
            counted = sign_in_waits.failures_now(row.kind, row.failures, now - row.last_at)
            row.failures, row.last_at = counted + 1, now
        SignInTry.objects.bulk_update(rows, ["failures", "last_at"])
    return Try(keys)


def try_succeeded(tried: Try) -> None:
    """Take back that a try was counted as failed.

    Of its own browser or address the account's failures are all forgotten; those of the account and
    of the address stand, or a guesser could wipe them out by an account of their own.
    """
    own = [key for kind, key in tried.keys.items() if kind in (DEVICE, PAIR)]
    shared = [key for kind, key in tried.keys.items() if kind in (ACCOUNT, ADDRESS)]
    SignInTry.objects.filter(key__in=own).delete()
    SignInTry.objects.filter(key__in=shared, failures__gt=0).update(failures=F("failures") - 1)


def wait_after(tried: Try) -> timedelta:
    """Return how long whoever has just failed has to wait."""
    rows = SignInTry.objects.filter(key__in=tried.keys.values())
    return max(
        (sign_in_waits.LIMITS[row.kind].wait_after(row.failures) for row in rows),
        default=timedelta(0),
    )


def write_down(
    kind: SignInEventKind,
    *,
    person: Person | None,
    now: datetime,
    where: Where | None = None,
    by: Person | None = None,
    detail: str = "",
) -> SignInEvent:
    """Write down what happened at the door; `by` where somebody else did it to the person."""
    came = where or Where(address="")
    return SignInEvent.objects.create(
        at=now,
        kind=kind,
        person=person,
        by=by,
        address=came.address,
        browser=browsers.browser_in_words(came.agent) if where else "",
        detail=detail[:200],
    )


def forget_old(*, now: datetime) -> tuple[int, int]:
    """Delete counts that count no more and events past their days; return how many of each."""
    tries, _ = SignInTry.objects.filter(last_at__lt=now - sign_in_waits.FORGOTTEN).delete()
    kept = timedelta(days=settings.SIGN_IN_EVENT_DAYS)
    with transaction.atomic():
        events, _ = SignInEvent.objects.filter(at__lt=now - kept).delete()
        retention.prove(
            kind=RetentionKind.SIGN_INS,
            number=events,
            words=f"older than {settings.SIGN_IN_EVENT_DAYS} days, as the service is set",
            now=now,
        )
    return tries, events


def _keys(name: str, address: str, device: str) -> dict[str, str]:
    account, place = account_key(name), addresses.neighbourhood(address)
    if device:
        return {DEVICE: _hash(DEVICE, account, device)}
    return {
        PAIR: _hash(PAIR, account, place),
        ACCOUNT: _hash(ACCOUNT, account),
        ADDRESS: _hash(ADDRESS, place),
    }


def _hash(*parts: str) -> str:
    return salted_hmac(SALT, "\n".join(parts), algorithm="sha256").hexdigest()
