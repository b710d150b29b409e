"""How passwords are kept, and which are taken."""

from typing import Any

import pytest
from django.contrib.auth.hashers import make_password
from django.contrib.auth.password_validation import (
    get_default_password_validators,
    validate_password,
)
from django.core.exceptions import ValidationError

from config import settings as shipped_settings
from registry.models import Person

pytestmark = pytest.mark.either_engine
SELMA = Person(username="otter.surgeon", shown_name="Selma Marten", email="sm@staff.invalid")


def refusal(password: str) -> str:
    """Return why a password of Selma is refused, '' where it is taken."""
    try:
        validate_password(password, SELMA)
    except ValidationError as fault:
        return " ".join(fault.messages)
    return ""


@pytest.mark.parametrize(
    "password",
    [
        "gravel kettle lantern",
        "twelve chars",
        "zzzzkqzzxvwq",
        "1839501628407159",
        "päällä ヒヨドリ 🦉 õhtu",
        "\N{EM DASH}#'\"<>&;\\%s{{7*7}}",
        " spaces at both ends ",
        "a long sentence that somebody likes, of more than sixty-four characters in all, why not",
        "gravel kettle lantern " * 11,
    ],
)
def test_long_ones_of_any_characters_are_taken_without_rules_of_composition(password: str) -> None:
    assert refusal(password) == ""


@pytest.mark.parametrize(
    ("password", "why"),
    [
        ("elevenchars", "too short: it has 11 characters and needs 12"),
        ("x" * 257, "at most 256"),
        ("password1234", "stolen elsewhere"),
        ("Password1234", "stolen elsewhere"),
        ("QWERTYUIOP12", "stolen elsewhere"),
        ("correcthorsebatterystaple", "stolen elsewhere"),
        ("otter.surgeon2", "too like your username"),
        ("Selma Marten!", "too like your shown name"),
        ("holdfast-2026", "words of this service"),
        ("ShoulderTrauma1", "words of this service"),
    ],
)
def test_a_refusal_says_what_is_wrong(password: str, why: str) -> None:
    assert why in refusal(password)


@pytest.mark.parametrize(
    "password", ["elevenchars", "password1234", "holdfast-2026", "Selma Marten!"]
)
def test_a_refusal_says_how_to_do_better(password: str) -> None:
    assert "Four or five words" in refusal(password)


def test_a_word_of_the_service_in_a_long_one_is_no_matter() -> None:
    assert refusal("our shoulder clinic has a green door") == ""


def test_what_is_wanted_is_said_beforehand() -> None:
    told = " ".join(one.get_help_text() for one in get_default_password_validators())
    assert "At least 12 characters" in told
    assert "stolen" in told


def test_passwords_are_kept_by_argon2id_with_the_stated_parameters(settings: Any) -> None:
    settings.PASSWORD_HASHERS = shipped_settings.PASSWORD_HASHERS
    assert make_password("gravel kettle lantern").startswith(
        "argon2$argon2id$v=19$m=65536,t=3,p=4$"
    )
