"""The numbers by which other systems know rows: kept when a row lands, gone with an erasure."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from django.db.models import Q

from registry.models.foreign_numbers import ForeignNumber
from registry.models.patients import Patient
from registry.models.sites import Site


def keep(
    *, site: Site, column: str, row: Any, numbers: Iterable[tuple[str, str]], now: datetime
) -> None:
    """Keep by which numbers, as (system, value), another system knows a row."""
    ForeignNumber.objects.bulk_create(
        ForeignNumber(site=site, system=system, value=value, kept_at=now, **{column: row})
        for system, value in dict.fromkeys(numbers)
    )


def forget(*, patients: Sequence[Patient]) -> int:
    """Forget the numbers of all that belongs to some patients; return how many."""
    theirs = (
        Q(injury__patient__in=patients)
        | Q(procedure__injury__patient__in=patients)
        | Q(part__construct__procedure__injury__patient__in=patients)
    )
    keys = list(ForeignNumber.objects.filter(theirs).values_list("pk", flat=True))
    return ForeignNumber.objects.filter(pk__in=keys).delete()[0]
