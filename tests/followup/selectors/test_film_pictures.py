import pytest

from followup.models import Film, FilmImage
from followup.selectors.film_pictures import pictures_by_film
from tests.analytics.records import operation, reading
from tests.world import GREYS, kept_image

pytestmark = pytest.mark.usefixtures("defaults")


def test_each_film_gives_its_first_picture_and_one_without_gives_none() -> None:
    done = operation()
    films: list[Film] = [reading(done, day, "9.0").film for day in (2, 20, 40)]
    by = done.recorded_by
    first = kept_image(FilmImage(film=films[0], site=done.site), GREYS, by)
    kept_image(FilmImage(film=films[0], site=done.site), GREYS.T, by)
    other = kept_image(FilmImage(film=films[2], site=done.site), GREYS[::-1], by)
    found = pictures_by_film(film.pk for film in films)
    assert found == {films[0].pk: first.pk, films[2].pk: other.pk}
