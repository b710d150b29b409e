"""Which second factors somebody has."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from allauth.mfa.models import Authenticator

from registry.models.people import Person

WORDS: Mapping[str, str] = {
    Authenticator.Type.TOTP: "an authenticator",
    Authenticator.Type.WEBAUTHN: "a passkey",
    Authenticator.Type.RECOVERY_CODES: "recovery codes",
}


@dataclass(frozen=True)
class Factor:
    """One second factor, without its secret."""

    words: str
    added_at: datetime
    used_at: datetime | None


def has_factor(person: Person) -> bool:
    """Say whether somebody has a second factor; recovery codes alone are none."""
    rows = Authenticator.objects.filter(user=person)
    return bool(rows.exclude(type=Authenticator.Type.RECOVERY_CODES).exists())


def factors_of(person: Person) -> list[Factor]:
    """Return the second factors of a person, the oldest first."""
    rows = Authenticator.objects.filter(user=person).order_by("pk")
    return [Factor(WORDS[row.type], row.created_at, row.last_used_at) for row in rows]
