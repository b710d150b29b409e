"""Clearing away files of films that no row names, or whose image was voided some weeks ago."""

from datetime import datetime, timedelta
from functools import partial
from itertools import islice

from django.db import transaction
from django.db.models import Q

from followup.exchange import film_store
from followup.models.images import FilmImage, IncomingImage
from registry.models.patients import Patient
from registry.services import jobs

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


def _named(names: list[str], now: datetime) -> set[str]:
    standing = Q(voided_at__isnull=True) | Q(voided_at__gte=now - KEPT_AFTER_VOID)
    return {
        name
        for model in (FilmImage, IncomingImage)
        for name in model.everything.filter(standing, stored_name__in=names).values_list(
            "stored_name", flat=True
        )
    }
