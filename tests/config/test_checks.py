"""Unsafe production settings are refused in words."""

from types import SimpleNamespace
from typing import Any

import pytest
from django.core.checks import run_checks

from config import env
from config.checks import faults_of, norms_are_known
from registry.rules.roles import ROLES

SAFE: dict[str, Any] = {
    "PRODUCTION": True,
    "DEBUG": False,
    "SECRET_KEY": "k" * 60,
    "ALLOWED_HOSTS": ["registry.hospital.example"],
    "CSRF_TRUSTED_ORIGINS": ["https://registry.hospital.example"],
    "PUBLIC_URL": "https://registry.hospital.example",
    "DATABASES": {"default": {"ENGINE": "django.db.backends.postgresql"}},
    "CELERY_BROKER_URL": "redis://redis/0",
    "CACHES": {"default": {"BACKEND": "django.core.cache.backends.redis.RedisCache"}},
    "EMAIL_BACKEND": "django.core.mail.backends.smtp.EmailBackend",
    "CARRIERS": {"email": {"by": "mail"}, "text": {"by": "file"}},
    "DELIVERY_LEASE_SECONDS": 600,
    "REPLY_SECRET": "",
    "METRICS_TOKEN": "",
    "EMAIL_USE_TLS": True,
    "SECOND_FACTOR_ROLES": list(ROLES),
}
PROVIDER = {"by": "http", "url": "https://provider.example/", "timeout_seconds": 15}


def found(**changed: Any) -> dict[str, str]:
    faults = faults_of(SimpleNamespace(**{**SAFE, **changed}))
    return {str(fault.id): f"{fault.msg} {fault.hint}" for fault in faults}


def test_safe_settings_raise_nothing() -> None:
    assert found() == {}
    assert found(CARRIERS={"text": PROVIDER}) == {}


@pytest.mark.parametrize(("chosen", "faults"), [("", 0), ("constant-1986", 0), ("own", 1)])
def test_a_norm_table_that_is_not_shipped_is_refused(
    settings: Any, chosen: str, faults: int
) -> None:
    settings.CONSTANT_NORMS = chosen
    told = norms_are_known(None)
    assert len(told) == faults
    assert all("'own', which is no table of norms" in str(one.msg) for one in told)


def test_the_check_command_looks_at_the_settings_in_use() -> None:
    ids = {str(fault.id) for fault in run_checks(tags=["security"], include_deployment_checks=True)}
    assert "holdfast.E001" in ids


@pytest.mark.parametrize(
    ("changed", "number", "words"),
    [
        ({"PRODUCTION": False}, "holdfast.E001", "Set HOLDFAST_PRODUCTION=yes."),
        ({"DEBUG": True}, "holdfast.E002", "Leave HOLDFAST_DEBUG unset."),
        ({"SECRET_KEY": "short"}, "holdfast.E003", "fewer than 50 characters"),
        ({"ALLOWED_HOSTS": ["localhost"]}, "holdfast.E004", "never to *"),
        ({"ALLOWED_HOSTS": ["*", "registry.example"]}, "holdfast.E004", "never to *"),
        ({"CSRF_TRUSTED_ORIGINS": ["http://r.example"]}, "holdfast.E005", "'http://r.example'"),
        ({"REPLY_SECRET": "short"}, "holdfast.E012", "only the provider knows"),
        ({"PUBLIC_URL": "http://10.0.0.1"}, "holdfast.E011", "begin with 'http://10.0.0.1'"),
        (
            {"DATABASES": {"default": {"ENGINE": "django.db.backends.sqlite3"}}},
            "holdfast.E006",
            "The database is SQLite",
        ),
        ({"CELERY_BROKER_URL": "filesystem://"}, "holdfast.E007", "goes through a folder"),
        (
            {"CACHES": {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}}},
            "holdfast.E008",
            "counts failed sign-ins for itself",
        ),
        (
            {"CACHES": {"default": env.cache("", "/var/cache/holdfast")}},
            "holdfast.E008",
            "which is taken in place of HOLDFAST_CACHE_DIR",
        ),
        (
            {"EMAIL_BACKEND": "django.core.mail.backends.filebased.EmailBackend"},
            "holdfast.W001",
            "reach nobody",
        ),
        (
            {"CARRIERS": {"text": {**PROVIDER, "timeout_seconds": 600}}},
            "holdfast.E010",
            "HOLDFAST_DELIVERY_LEASE_SECONDS well above HOLDFAST_TEXT_TIMEOUT_SECONDS",
        ),
        (
            {"CARRIERS": {"letter": {**PROVIDER, "url": "http://provider.example/"}}},
            "holdfast.E011",
            "Write HOLDFAST_LETTER_URL and HOLDFAST_LETTER_LOOK_UP_URL with https://",
        ),
        (
            {"CARRIERS": {"text": {**PROVIDER, "look_up_url": "http://provider.example/{key}"}}},
            "holdfast.E011",
            "HOLDFAST_TEXT_LOOK_UP_URL with https://",
        ),
    ],
)
def test_each_unsafe_setting_is_named_with_its_mend(
    changed: dict[str, Any], number: str, words: str
) -> None:
    faults = found(**changed)
    assert set(faults) == {number}
    assert words in faults[number]


def test_roles_that_come_in_by_a_password_alone_are_named() -> None:
    told = found(SECOND_FACTOR_ROLES=["surgeon", "administrator"])["holdfast.W002"]
    assert "coordinator, film reader, quality lead" in told
    assert "surgeon" not in told
