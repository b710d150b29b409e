"""What lies in the cache of all processes is read back only where this service has written it."""

import hmac
import pickle
from typing import Any

from django.conf import settings
from django.utils.crypto import salted_hmac

SALT = "config.signed-cache"
MAC_BYTES = 32


class Signed:
    """Signs what is kept, and looks at the signature before anything is unpickled.

    Whoever gets at Redis could otherwise run code here. What has no signature of ours, as after the secret
    key was changed without keeping the former one, counts as not kept.
    """

    def dumps(self, obj: Any) -> Any:
        """Return an object as it is kept; whole numbers as they are, so that Redis can count them."""
        if type(obj) is int:
            return obj
        body = pickle.dumps(obj, pickle.HIGHEST_PROTOCOL)
        return _mac(body, settings.SECRET_KEY) + body

    def loads(self, data: bytes) -> Any:
        """Return the object that is kept, None for what this service has not written."""
        try:
            return int(data)
        except ValueError:
            given, body = data[:MAC_BYTES], data[MAC_BYTES:]
        keys = (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)
        if not any(hmac.compare_digest(given, _mac(body, key)) for key in keys):
            return None
        return pickle.loads(body)  # noqa: S301 - signed by this service


def _mac(body: bytes, key: str) -> bytes:
    return salted_hmac(SALT, body, secret=key, algorithm="sha256").digest()
