"""Clearing away files of films that no row names, and measuring those that were kept unmeasured."""

from datetime import datetime, timedelta
from functools import partial
from itertools import islice

from django.db import transaction
from django.db.models import Q

from followup.exchange import film_store
from followup.models.images import FilmImage, IncomingImage
from registry.models.patients import Patient
from registry.selectors.chunks import in_chunks
from registry.services import jobs, records

# A file is written before its row; so long may that take.
ROW_COMES_WITHIN = timedelta(days=1)
# So long a wrong 'discard' can be put right from the backup of the rows.
KEPT_AFTER_VOID = timedelta(days=30)
AT_ONCE = 500


def forget_of_patient(*, patient: Patient) -> None:
    """Delete the files of the voided images of an erased patient as soon as that is saved."""
    named = FilmImage.everything.filter(film__injury__patient=patient, voided_at__isnull=False)
    waiting = IncomingImage.everything.filter(injury__patient=patient, voided_at__isnull=False)
    for rows in (named, waiting):
        for name in rows.values_list("stored_name", flat=True):
            transaction.on_commit(partial(film_store.drop, name))


def sweep_files(*, now: datetime) -> int:
    """Delete the files of films that nothing names any more; return how many."""
    gone = 0
    files = iter(film_store.kept())
    while several := dict(islice(files, AT_ONCE)):
        old = [name for name, since in several.items() if since < now - ROW_COMES_WITHIN]
        for name in sorted(set(old) - _named(old, now)):
            film_store.drop(name)
            gone += 1
        jobs.beat(len(several))
    return gone


def measure_files() -> int:
    """Note length and hash of the files that were kept before those were noted; return how many."""
    noted = 0
    for model in (FilmImage, IncomingImage):
        for chunk in in_chunks(model.objects.filter(file_sha256=""), AT_ONCE):
            for image in chunk:
                noted += _measure(image)
            jobs.beat(len(chunk))
    return noted


def _measure(image: FilmImage | IncomingImage) -> bool:
    try:
        with film_store.open_file(image.stored_name) as source:
            digest, size = film_store.measured(source)
    except FileNotFoundError:
        # What looks through the records says so.
        return False
    with records.change(by=None, reason="its file was measured"):
        # No change of the picture: whoever is about to change it has seen the version that stands.
        rows = type(image).everything.filter(pk=image.pk, stored_name=image.stored_name)
        return bool(rows.update(file_sha256=digest, file_bytes=size))


def _named(names: list[str], now: datetime) -> set[str]:
    standing = Q(voided_at__isnull=True) | Q(voided_at__gte=now - KEPT_AFTER_VOID)
    return {
        name
        for model in (FilmImage, IncomingImage)
        for name in model.everything.filter(standing, stored_name__in=names).values_list(
            "stored_name", flat=True
        )
    }
