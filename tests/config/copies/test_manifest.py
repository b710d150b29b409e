"""What a copy says of itself is read back as it was, or refused in words."""

import json
from dataclasses import replace

import pytest

from config.copies import manifest as manifests
from config.copies.manifest import Content, CopyFault, Manifest

ONE = Manifest(
    made_at="2026-11-25T09:00:00+00:00",
    code_version="0.1.0",
    engine="sqlite",
    engine_version="3.40",
    migrations={"registry": "0014_record_moves"},
    tables={"registry_site": Content(2, "a" * 64), "registry_patient": Content(3, "b" * 64)},
    database=Content(100, "c" * 64),
    files=Content(1, "d" * 64),
    file_bytes=7,
    missing=("files/films/aa/bb",),
    secret=manifests.secret_of("key"),
)


def test_a_manifest_is_read_as_it_was_written() -> None:
    assert manifests.from_json(json.dumps(ONE.as_json(secret=True)).encode()) == ONE
    assert ONE.rows == 5
    open_one = manifests.from_json(json.dumps(ONE.as_json(secret=False)).encode())
    assert open_one == replace(ONE, secret="")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b"nonsense", "no manifest that can be read"),
        (b"[]", "no manifest that can be read"),
        (b"{}", "no manifest that can be read"),
        (json.dumps({**ONE.as_json(secret=True), "version": 2}).encode(), "version 2; here"),
        (json.dumps({**ONE.as_json(secret=True), "more": 1}).encode(), "no manifest that can"),
    ],
)
def test_what_is_no_manifest_is_refused(text: bytes, said: str) -> None:
    with pytest.raises(CopyFault, match=said):
        manifests.from_json(text)


def test_two_services_see_whether_they_share_a_secret_and_not_which() -> None:
    assert manifests.secret_of("key") == manifests.secret_of("key") != manifests.secret_of("yek")
    assert "key" not in manifests.secret_of("key")
