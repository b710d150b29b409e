"""Walking through very many rows in constant memory, while they are being changed."""

from array import array
from collections.abc import Iterator
from typing import Any

from django.db.models import QuerySet

SIZE = 500


def in_chunks(rows: QuerySet[Any], size: int = SIZE) -> Iterator[list[Any]]:
    """Yield the rows of a queryset in lists, in the order of their keys.

    The keys are read first, at eight bytes each, so that no cursor stays open across the writes in
    between. A chunk is read when its turn comes and holds what still belongs to the queryset then.
    """
    keys = array("q", rows.order_by("pk").values_list("pk", flat=True).iterator(chunk_size=10_000))
    for start in range(0, len(keys), size):
        yield list(rows.filter(pk__in=keys[start : start + size].tolist()).order_by("pk"))
