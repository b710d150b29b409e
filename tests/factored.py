"""People with a second factor, and the codes that an authenticator would show them."""

import base64
import hashlib
import hmac
import struct
import time
from typing import Any

from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes
from allauth.mfa.totp.internal.auth import TOTP
from django.test import Client
from django.urls import reverse

from registry.models import Person

PASSWORD = "gravel kettle lantern"
# The secret of RFC 6238, appendix B: the ASCII digits 1 to 0, twice.
SECRET = base64.b32encode(b"12345678901234567890").decode()


def code_at(moment: float, secret: str = SECRET) -> str:
    """Return the six digits that an authenticator shows, worked out here by RFC 4226, section 5.3."""
    counter = struct.pack(">Q", int(moment) // 30)
    digest = hmac.new(base64.b32decode(secret), counter, hashlib.sha1).digest()
    offset = digest[19] & 15
    number = int.from_bytes(digest[offset : offset + 4], "big") & 0x7FFFFFFF
    return f"{number % 1_000_000:06}"


def code_now(secret: str = SECRET) -> str:
    return code_at(time.time(), secret)


def with_password(person: Person, password: str = PASSWORD) -> Person:
    person.set_password(password)
    person.save()
    return person


def with_authenticator(person: Person, secret: str = SECRET) -> Person:
    """Give a person a password and an authenticator."""
    TOTP.activate(with_password(person), secret)
    return person


def with_recovery_codes(person: Person) -> list[str]:
    """Give a person recovery codes, and return them."""
    return list(RecoveryCodes.activate(person).generate_codes())


def give_password(client: Client, person: Person, password: str = PASSWORD) -> Any:
    sent = {"login": person.username, "password": password}
    return client.post(reverse("account_login"), sent)


def give_code(client: Client, code: str) -> Any:
    return client.post(reverse("mfa_authenticate"), {"code": code})


def factors(person: Person) -> list[str]:
    return sorted(Authenticator.objects.filter(user=person).values_list("type", flat=True))
