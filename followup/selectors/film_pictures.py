"""The pictures of many films at once."""

from collections.abc import Iterable

from followup.models.images import FilmImage


def pictures_by_film(film_ids: Iterable[int]) -> dict[int, int]:
    """Return the first picture of each of some films that has one, by film: the keys of both."""
    rows = FilmImage.objects.filter(film_id__in=list(film_ids), film__voided_at__isnull=True)
    found: dict[int, int] = {}
    for film_id, image_id in rows.order_by("id").values_list("film_id", "id"):
        found.setdefault(film_id, image_id)
    return found
