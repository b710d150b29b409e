from typing import Any

import pytest

from registry.services import kept_secrets

OLD, NEW = "old " * 20, "new " * 20


def test_a_secret_is_opened_for_its_purpose_alone(settings: Any) -> None:
    settings.SECRET_KEY = OLD
    kept = kept_secrets.encrypt("a secret", b"one")
    assert "a secret" not in kept
    assert kept_secrets.decrypt(kept, b"one") == "a secret"
    with pytest.raises(kept_secrets.SecretUnreadable, match="former key"):
        kept_secrets.decrypt(kept, b"other")


def test_a_former_key_opens_while_it_is_named(settings: Any) -> None:
    settings.SECRET_KEY = OLD
    kept = kept_secrets.encrypt("a secret", b"one")
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = NEW, [OLD]
    assert kept_secrets.decrypt(kept, b"one") == "a secret"
    settings.SECRET_KEY_FALLBACKS = []
    with pytest.raises(kept_secrets.SecretUnreadable):
        kept_secrets.decrypt(kept, b"one")
