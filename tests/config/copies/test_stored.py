"""The files beside the database, by storage and name; no name leads out of a storage."""

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from config.copies import stored
from config.copies.manifest import CopyFault
from config.copies.stored import Stored
from followup.exchange import film_store


def test_every_file_of_both_storages_is_found() -> None:
    film = film_store.put(ContentFile(b"a film"))
    sent = default_storage.save("deep/er/cases.csv", ContentFile(b"a file"))
    try:
        found = set(stored.everything())
        assert {Stored("films", film), Stored("default", sent)} <= found
        source = stored.opened(Stored("default", sent))
        assert source is not None
        with source:
            assert source.read() == b"a file"
        assert stored.of_member(Stored("films", film).member) == Stored("films", film)
    finally:
        film_store.drop(film)
        default_storage.delete(sent)
    assert stored.opened(Stored("films", film)) is None
    assert stored.opened_no_more(Stored("films", film))


@pytest.mark.parametrize(
    "path",
    [
        "files/films/../secret-key",
        "files/films//etc/passwd",
        "files/elsewhere/a",
        "files/films/",
        "other",
    ],
)
def test_a_member_that_is_no_file_of_ours_is_refused(path: str) -> None:
    with pytest.raises(CopyFault, match="is no file of the service"):
        stored.of_member(path)
