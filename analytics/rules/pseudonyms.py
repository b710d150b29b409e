"""What stands for a person, a place or a day in an extract for research: by a secret of the project.

The pseudonyms of one project are the same in each of its extracts, so that a later one continues an
earlier; those of two projects have nothing in common without both keys (GDPR Article 4(5)).
"""

import base64
import hmac
from datetime import date
from hashlib import sha256

KEY_BYTES = 32
# 80 bits of HMAC-SHA256: two of a billion things meet with a chance below one in a million.
LETTERS = 16
# Common practice, no source: a year back takes the season away, and no day lies in the future.
LONGEST_SHIFT = 365
OLDEST = 90
BAND = 10


def pseudonym(key: bytes, kind: str, value: str) -> str:
    """Return what stands for one thing of a kind in a project: 16 letters and digits.

    References
    ----------
    HMAC: Krawczyk, Bellare, Canetti, RFC 2104, 1997.
    """
    digest = _digest(key, kind, value)
    return base64.b32encode(digest).decode()[:LETTERS].lower()


def days_back(key: bytes, patient: str) -> int:
    """Return by how many days, 1 to 365, all dates of a patient are moved back in a project."""
    number = int.from_bytes(_digest(key, "shift", patient)[:8], "big")
    return 1 + number % LONGEST_SHIFT


def month_of(day: date) -> str:
    """Return the month of a day, as 2026-03."""
    return f"{day.year:04d}-{day.month:02d}"


def quarter_of(day: date) -> str:
    """Return the quarter of a day, as 2026-Q1."""
    return f"{day.year:04d}-Q{(day.month + 2) // 3}"


def band_of(age: int) -> str:
    """Return the ten years that an age lies in, as 40-49; 90 and more are one (capped).

    References
    ----------
    Ages over 89 are put together: 45 CFR 164.514(b)(2)(i)(C).
    """
    if age >= OLDEST:
        return f"{OLDEST}+"
    first = age // BAND * BAND
    return f"{first}-{first + BAND - 1}"


def _digest(key: bytes, kind: str, value: str) -> bytes:
    return hmac.new(key, f"{kind}:{value}".encode(), sha256).digest()
