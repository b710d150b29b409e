"""Whom the header of a file names: kept for the match, and forgotten when a person has decided."""

from collections.abc import Sequence
from datetime import date, datetime

from django.db.models import Q

from registry.models.identities import HeaderIdentity, Identifier, Identity
from registry.models.patients import Patient
from registry.models.sites import Site


def keep(
    *,
    site: Site,
    number: str,
    family_name: str,
    given_name: str,
    birth_date: date | None,
    file_name: str,
    now: datetime,
) -> int:
    """Keep what a header says of a person until somebody has decided; return its number."""
    row = HeaderIdentity.objects.create(
        site=site,
        number=number[:60],
        family_name=family_name[:80],
        given_name=given_name[:80],
        birth_date=birth_date,
        file_name=file_name[:120],
        kept_at=now,
    )
    return row.pk


def forget(*, row_id: int | None) -> None:
    """Forget what a header said; nothing happens where nothing is kept."""
    if row_id is not None:
        HeaderIdentity.objects.filter(pk=row_id).delete()


def forget_like(*, patients: Sequence[Patient]) -> None:
    """Forget every header that names one of these patients, by name or by number."""
    like = Q(number__in=Identifier.objects.filter(patient__in=patients).values("value"))
    for row in Identity.objects.filter(patient__in=patients):
        like |= Q(family_name__iexact=row.family_name, given_name__iexact=row.given_name)
    HeaderIdentity.objects.filter(like).delete()
