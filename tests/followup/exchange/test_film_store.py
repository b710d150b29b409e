import re
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile

from followup.exchange import film_store


def test_a_file_lies_under_a_name_that_says_nothing() -> None:
    name = film_store.put(ContentFile(b"pixels", "Doe Jane 1962.dcm"))
    assert re.fullmatch(r"[0-9a-f]{2}/[0-9a-f]{40}", name)
    with film_store.open_file(name) as found:
        assert found.read() == b"pixels"
    assert name in dict(film_store.kept())
    film_store.drop(name)
    film_store.drop(name)
    assert name not in dict(film_store.kept())
    with pytest.raises(FileNotFoundError):
        film_store.open_file(name)


def test_films_lie_outside_what_is_handed_out_as_files_and_are_read_by_the_owner_alone(
    settings: Any,
) -> None:
    folder = Path(settings.FILMS_DIR)
    for served in (settings.STATIC_ROOT, settings.MEDIA_ROOT):
        assert not folder.is_relative_to(served)
    name = film_store.put(ContentFile(b"pixels"))
    assert (folder / name).stat().st_mode & 0o077 == 0
    film_store.drop(name)
