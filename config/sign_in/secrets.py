"""Keeps the secrets of second factors encrypted, and closes every kept secret anew with a changed key."""

from collections.abc import Iterator

from allauth.mfa.models import Authenticator
from django.db import transaction

from analytics.services import research
from registry.services import kept_secrets

INFO = b"holdfast: secrets of second factors"


class SecretUnreadable(kept_secrets.SecretUnreadable):
    """A second factor was encrypted with a key that the settings do not name any more."""

    def __init__(self) -> None:
        """Say what to do."""
        super().__init__(
            "Your second factor cannot be read, because the service's secret key was changed. "
            "Ask an administrator to remove it, or to name the former key in the settings."
        )


def encrypt(text: str) -> str:
    """Return a text as it is kept."""
    return kept_secrets.encrypt(text, INFO)


def decrypt(kept: str) -> str:
    """Return a text that is kept encrypted; raises SecretUnreadable where no key opens it."""
    try:
        return kept_secrets.decrypt(kept, INFO)
    except kept_secrets.SecretUnreadable as fault:
        raise SecretUnreadable from fault


def renew() -> int:
    """Encrypt every kept secret with the present key; return how many. Twice equals once.

    Those are the secrets of second factors and the keys of research projects. Raises
    `kept_secrets.SecretUnreadable`, with nothing changed, where no key in the settings opens one.
    """
    renewed = 0
    with transaction.atomic():
        for row in Authenticator.objects.select_for_update().order_by("pk"):
            for name in _secrets(row):
                row.data[name] = encrypt(decrypt(row.data[name]))
                renewed += 1
            row.save(update_fields=["data"])
        return renewed + research.renew_keys()


def _secrets(row: Authenticator) -> Iterator[str]:
    # A passkey's row holds a public key, which is no secret.
    yield from (name for name in ("secret", "seed") if name in row.data)
