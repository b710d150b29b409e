"""Taking in pictures of films: examined, stripped of names, stored, and belonging to a film."""

import hashlib
from collections.abc import Iterable
from datetime import datetime
from typing import Any, BinaryIO, cast

from django.core.files.base import File

from followup.exchange import film_store, pictures
from followup.exchange.image_frames import png_file
from followup.models.films import Film
from followup.models.images import FilmImage
from followup.rules.image_facts import ImageFacts
from followup.rules.image_files import START, ImageRefused, Limits, hold_bytes, kind_of
from registry.models.people import Person
from registry.services import records


def add_image(*, film: Film, content: "File[bytes]", by: Person, now: datetime) -> FilmImage:
    """Keep a picture of a film.

    Raises ImageRefused for a file that cannot be taken or that is there already.
    """
    limits = Limits()
    hold_bytes(content.size, limits)
    content.seek(0)
    kind = kind_of(content.read(START))
    digest = _digest(content.chunks())
    there = FilmImage.objects.filter(site=film.site, content_hash=digest).first()
    if there is not None:
        raise ImageRefused("This very file is there already.")
    if kind == "dicom":
        raise ImageRefused("DICOM files are not taken yet. Export the film as PNG.")
    content.seek(0)
    pixels = pictures.read_picture(cast("BinaryIO", content.file), limits)
    most = 255 if pixels.dtype.itemsize == 1 else int(pixels.max())
    values: dict[str, Any] = {
        "content_hash": digest,
        "kind": kind,
        "rows": pixels.shape[0],
        "columns": pixels.shape[1],
        "facts": ImageFacts(pixels.shape[0], pixels.shape[1]).as_json(),
        "least": 0,
        "most": most,
        "shown_low": 0,
        "shown_high": most,
    }
    name = film_store.put(png_file(pixels))
    try:
        return records.create(
            FilmImage(film=film, site=film.site, stored_name=name, **values), by=by, now=now
        )
    except BaseException:
        film_store.drop(name)
        raise


def _digest(chunks: Iterable[bytes]) -> str:
    found = hashlib.sha256()
    for chunk in chunks:
        found.update(chunk)
    return found.hexdigest()
