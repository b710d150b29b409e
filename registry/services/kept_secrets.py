"""Keeps secrets encrypted in the database, under keys that can be changed.

Fernet (AES-128-CBC with HMAC-SHA256) of the package cryptography; its key is derived by HKDF from the
secret key of the service and from what the secret is for, so that a copy of the database alone tells no
secret, and a secret of one kind opens none of another. A secret key that was changed is listed in
HOLDFAST_SECRET_KEY_FALLBACKS until `renew_factor_secrets` has run.
"""

import base64

from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings

from registry.errors import HoldfastError

KEY_BYTES = 32


class SecretUnreadable(HoldfastError):
    """A secret was encrypted with a key that the settings do not name any more."""

    def __init__(
        self,
        words: str = (
            "What is kept encrypted here cannot be read, because the service's secret key was changed. "
            "Ask whoever runs the service to name the former key in the settings."
        ),
    ) -> None:
        """Say what to do."""
        super().__init__(words)


def encrypt(text: str, purpose: bytes) -> str:
    """Return a text as it is kept, for one purpose."""
    return _keys(purpose).encrypt(text.encode()).decode()


def decrypt(kept: str, purpose: bytes) -> str:
    """Return a text that is kept encrypted; raises SecretUnreadable where no key opens it."""
    try:
        return _keys(purpose).decrypt(kept.encode()).decode()
    except InvalidToken as fault:
        raise SecretUnreadable from fault


def _keys(purpose: bytes) -> MultiFernet:
    secret_keys = (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)
    return MultiFernet([_fernet(key, purpose) for key in secret_keys])


def _fernet(secret_key: str, purpose: bytes) -> Fernet:
    derived = HKDF(algorithm=SHA256(), length=KEY_BYTES, salt=None, info=purpose)
    return Fernet(base64.urlsafe_b64encode(derived.derive(secret_key.encode())))
