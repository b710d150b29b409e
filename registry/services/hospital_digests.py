"""Digests by which a value of the hospital's system is known again, whatever became of the secret key.

A digest is keyed by the service's secret key, and cannot be made anew without its value. So a changed
key may not leave it behind: while the former key is named in HOLDFAST_SECRET_KEY_FALLBACKS it is tried
as well, and `renew_factor_secrets` keeps beside each last word what the digests' key is derived to,
encrypted with the present key, so that the word is known after the former key is gone.
"""

import hashlib
import hmac
from collections.abc import Callable, Iterable, Sequence
from functools import cache

from django.conf import settings
from django.db import transaction

from registry.models.hospital_messages import HospitalDoor, HospitalRecord
from registry.models.sites import Site
from registry.selectors.chunks import in_chunks
from registry.services import kept_secrets

PURPOSE = b"holdfast: former keys of the hospital's last words"


def digest_of(value: str) -> str:
    """Return a short keyed digest, by which a value is known again and not told."""
    return _digest(_derived(settings.SECRET_KEY), value)


def digests_of(value: str) -> list[str]:
    """Return the digests of a value by the present key and by each former one that is named."""
    return [_digest(key, value) for key in _named()]


def is_word(word: Sequence[str], value: str) -> bool:
    """Say whether a last word (its place in time, its digest, its former keys if any) is a value."""
    keys = [*_named(), *(_opened(word[2]) if len(word) > 2 else [])]
    return any(hmac.compare_digest(word[1], _digest(key, value)) for key in keys)


def keep_keys() -> int:
    """Keep the keys that are named now beside every last word; return how many. Twice equals once.

    What was kept and is opened by no key that is named stays as it is.
    """
    return sum(_keep_at(site) for site in Site.objects.filter(hospital_door__isnull=False))


@transaction.atomic
def _keep_at(site: Site) -> int:
    # Under the door's lock nobody writes a word of the site meanwhile.
    HospitalDoor.objects.select_for_update().get(site=site)
    closed = cache(_closed)
    words = 0
    for rows in in_chunks(HospitalRecord.objects.filter(site=site)):
        for row in rows:
            row.said = {name: _kept(word, closed) for name, word in row.said.items()}
            words += len(row.said)
        HospitalRecord.objects.bulk_update(rows, ["said"])
    return words


def _kept(word: list[str], closed: Callable[[frozenset[str]], str]) -> list[str]:
    """Return a word with every key that it may have been digested with."""
    before = _opened(word[2]) if len(word) > 2 else []
    if len(word) > 2 and not before:
        return word
    return [*word[:2], closed(frozenset(key.hex() for key in [*before, *_named()]))]


def _closed(keys: Iterable[str]) -> str:
    return kept_secrets.encrypt(" ".join(sorted(keys)), PURPOSE)


def _opened(kept: str) -> list[bytes]:
    try:
        return [bytes.fromhex(key) for key in kept_secrets.decrypt(kept, PURPOSE).split()]
    except kept_secrets.SecretUnreadable:
        return []


def _named() -> list[bytes]:
    return [_derived(key) for key in (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)]


def _derived(secret_key: str) -> bytes:
    # By which the digests were always made.
    derived = b"hospital" + secret_key.encode()
    return hashlib.sha1(derived).digest()  # noqa: S324 - as Django's salted_hmac derives it


def _digest(key: bytes, value: str) -> str:
    return hmac.digest(key, value.encode(), "sha1").hex()[:24]
