"""What must hold of films: their files, and readings and calibrations that were corrected."""

import hashlib
from collections.abc import Iterator
from datetime import timedelta
from functools import partial
from itertools import islice
from typing import Any

from django.db.models import Exists, F, OuterRef, Q

from followup.exchange import film_store
from followup.models.calibrations import ImageCalibration
from followup.models.films import Reading
from followup.models.images import FilmImage, IncomingImage
from followup.services import image_files
from registry.services.invariants import AT_ONCE, Breach, Files, Invariant, Looking, broken_by

# So many nights until every file was read through once.
NIGHTS = 28
BLOCK = 1 << 20
# The sweep runs every hour, and may have been kept from it for a day.
SWEPT_WITHIN = timedelta(days=1)
CORRECTED: tuple[tuple[type[Any], tuple[str, ...]], ...] = (
    (Reading, ("film", "reader")),
    (ImageCalibration, ("image",)),
)


def _files(looking: Looking) -> Iterator[Breach]:
    for model in (FilmImage, IncomingImage):
        rows = model.objects.order_by("pk").only("pk", "stored_name", "file_sha256", "file_bytes")
        for row in rows.iterator(chunk_size=AT_ONCE):
            fault = _fault_of(row, whole=_is_its_turn(row.pk, looking))
            if fault:
                yield Breach(f"{model._meta.db_table} {row.pk}", fault)


def _is_its_turn(key: int, looking: Looking) -> bool:
    if looking.files is Files.SHARE:
        return key % NIGHTS == looking.now.toordinal() % NIGHTS
    return looking.files is Files.ALL


def _fault_of(row: Any, *, whole: bool) -> str:
    size = film_store.size_of(row.stored_name)
    if size is None:
        return "its file is not there"
    if row.file_bytes is not None and size != row.file_bytes:
        return f"its file has {size} bytes and was kept with {row.file_bytes}"
    if not whole or not row.file_sha256:
        return ""
    found = hashlib.sha256()
    with film_store.open_file(row.stored_name) as source:
        for block in iter(partial(source.read, BLOCK), b""):
            found.update(block)
    return "" if found.hexdigest() == row.file_sha256 else "its file is not the one that was kept"


def _unnamed(looking: Looking) -> Iterator[Breach]:
    before = looking.now - image_files.ROW_COMES_WITHIN - SWEPT_WITHIN
    files = iter(film_store.kept())
    while several := dict(islice(files, image_files.AT_ONCE)):
        old = [name for name, since in several.items() if since < before]
        for name in sorted(set(old) - _named(old)):
            yield Breach(f"file {name}", "no row names it, and it is older than a day")


def _named(names: list[str]) -> set[str]:
    return {
        name
        for model in (FilmImage, IncomingImage)
        for name in model.everything.filter(stored_name__in=names).values_list(
            "stored_name", flat=True
        )
    }


def _corrections(looking: Looking) -> Iterator[Breach]:
    for model, same in CORRECTED:
        corrected = model.everything.filter(superseded_by__isnull=False)
        # A correction is written after what it corrects, so that no line can run in a ring.
        yield from broken_by(
            corrected.filter(superseded_by__lte=F("pk")), "what corrects it is older than itself"
        )
        for name in same:
            yield from broken_by(
                corrected.exclude(**{f"superseded_by__{name}": F(name)}),
                f"what corrects it is of another {name}",
            )
        line = {name: OuterRef(name) for name in same}
        standing = model.objects.filter(superseded_by__isnull=True, **line)
        ends = Q(superseded_by__voided_at__isnull=True, voided_at__isnull=True)
        yield from broken_by(
            corrected.filter(ends, ~Exists(standing)), "its line of corrections has no end"
        )


def _uploads_decided(looking: Looking) -> Iterator[Breach]:
    became = IncomingImage.objects.filter(image__isnull=False)
    yield from broken_by(
        became.exclude(image__content_hash=F("content_hash")), "it became a picture of another file"
    )
    yield from broken_by(
        became.filter(named__isnull=False),
        "it was decided, and whom its header names is still kept",
    )


INVARIANTS = (
    Invariant("film_files", "Each picture's file is there, with its length and hash.", _files),
    Invariant("film_files_named", "No file of a film is without a row over a day.", _unnamed),
    Invariant("corrections", "What was corrected forms lines with one end.", _corrections),
    Invariant("arrivals", "A picture that arrived became one of the same file.", _uploads_decided),
)
