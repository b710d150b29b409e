"""Nothing is unpickled that this service has not written."""

import pickle
from datetime import UTC, datetime
from typing import Any

import pytest
from django.core.cache import caches
from django.test import override_settings
from hypothesis import given
from hypothesis import strategies as st

from config.signed_cache import Signed

RAN: list[str] = []


class Hostile:
    """Runs code where it is unpickled."""

    def __reduce__(self) -> Any:
        return RAN.append, ("it ran",)


@pytest.mark.parametrize(
    "kept",
    [0, 7, True, None, "text", b"\x89PNG", 1.5, datetime(2026, 11, 30, tzinfo=UTC), [1, {"a": 2}]],
)
def test_what_was_kept_comes_back(kept: Any) -> None:
    found = Signed().loads(_as_redis_has_it(Signed().dumps(kept)))
    assert found == kept
    assert type(found) is type(kept)


def _as_redis_has_it(kept: Any) -> bytes:
    return str(kept).encode() if isinstance(kept, int) else bytes(kept)


@given(st.binary(max_size=80))
def test_whatever_else_lies_there_counts_as_not_kept(data: bytes) -> None:
    found = Signed().loads(data)
    assert found is None or isinstance(found, int)


def test_a_strange_object_is_not_unpickled() -> None:
    strange = pickle.dumps(Hostile())
    kept = bytearray(Signed().dumps("text"))
    kept[32:] = strange
    for data in (strange, b"\0" * 32 + strange, bytes(kept)):
        assert Signed().loads(data) is None
    assert RAN == []


def test_a_former_key_is_known_while_it_is_named_and_no_longer(settings: Any) -> None:
    kept = Signed().dumps("text")
    former = settings.SECRET_KEY
    with override_settings(SECRET_KEY="k" * 60, SECRET_KEY_FALLBACKS=[former]):
        assert Signed().loads(kept) == "text"
    with override_settings(SECRET_KEY="k" * 60, SECRET_KEY_FALLBACKS=[]):
        assert Signed().loads(kept) is None


@pytest.mark.needs_redis
def test_the_cache_of_a_service_is_signed_and_counts() -> None:
    cache: Any = caches["default"]
    cache.set("signed", "text", 30)
    assert cache.get("signed") == "text"
    cache.set("counted", 1, 30)
    assert cache.incr("counted") == 2
    raw = cache._cache.get_client(None, write=True)
    raw.set(cache.make_key("signed"), pickle.dumps(Hostile()))
    assert cache.get("signed") is None
    assert RAN == []
