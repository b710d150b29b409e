"""Which films wait for a reader, and which readings a person may see."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from followup.models.films import Film, Reading
from followup.models.images import FilmImage
from followup.models.readings import WantedReading, WantedState
from followup.selectors.visible import visible
from registry.models.people import Person
from registry.selectors.visible import Viewer, site_ids


def current_readings() -> QuerySet[Reading]:
    """Return the readings that no other has superseded, fit for asking about one film at a time.

    Written as 'not superseded': by 'superseded is empty' SQLite would go through all readings, by
    the index of a column that is empty in nearly every row, for each film again.
    """
    rows: QuerySet[Reading] = Reading.objects.exclude(superseded_by__isnull=False)
    return rows


def readings_seen_by(user: Viewer) -> QuerySet[Reading]:
    """Return the readings of the sites whose patients a person sees, and elsewhere only their own.

    Who only reads films measures blind: another's numbers would lead their hand. So they are hidden of
    a film whose second or third reading somebody has taken and not done.
    """
    all_there: QuerySet[Reading] = visible(user, Reading, "see_patient")
    own: QuerySet[Reading] = visible(user, Reading, "see_films").filter(reader=user)
    taken = WantedReading.objects.filter(
        film=OuterRef("film"), reader=user, state=WantedState.WANTED
    )
    return all_there.exclude(Exists(taken)) | own


@dataclass(frozen=True)
class FilmLine:
    """One film that waits for a reader; `course` says whether the patient's course may be opened.

    `image_id` is its first picture, where there is one.
    """

    film: Film
    key: str
    side: str
    course: bool
    image_id: int | None


def films_to_read(user: Viewer, *, others: bool = False) -> QuerySet[Film]:
    """Return the films that nobody has read yet, the oldest first; or those that others have read and
    this person has not, and of which no further reading is wanted: those that are have their queues,
    where neither key nor day is shown.
    """
    readings = current_readings().filter(film=OuterRef("pk"))
    rows: QuerySet[Film] = _with_injury(visible(user, Film, "read_film"))
    if others:
        # Said the other way round, so that the index of current readings by film and reader serves.
        own = Reading.objects.filter(film=OuterRef("pk"), reader=user, superseded_by__isnull=True)
        asked = WantedReading.objects.filter(film=OuterRef("pk"), state=WantedState.WANTED)
        rows = rows.filter(Exists(readings), ~Exists(own), ~Exists(asked))
    else:
        rows = rows.filter(~Exists(readings))
    return rows.order_by("taken_on", "id")


def film_to_read(user: Viewer, film_id: int) -> Film | None:
    """Return a film that a person may read; None when it is not there."""
    return _with_injury(visible(user, Film, "read_film")).filter(pk=film_id).first()


def film_after(user: Viewer, film: Film, *, others: bool = False) -> Film | None:
    """Return the next film to read after one, in the order of the list; None at its end."""
    later = Q(taken_on__gt=film.taken_on) | Q(taken_on=film.taken_on, pk__gt=film.pk)
    return films_to_read(user, others=others).filter(later).first()


def lines(user: Viewer, films: Iterable[Film]) -> list[FilmLine]:
    """Return films as a list shows them: by the patient's key, never by name."""
    courses = set(site_ids(user, "see_patient"))
    several = list(films)
    # The last of a film is written over by those before it.
    pictures = dict(
        FilmImage.objects.filter(film__in=several).order_by("-id").values_list("film_id", "pk")
    )
    return [
        FilmLine(
            film,
            film.injury.patient.key,
            film.injury.get_side_display().lower(),
            film.site_id in courses,
            pictures.get(film.pk),
        )
        for film in several
    ]


def own_readings(film: Film, reader: Person) -> list[Reading]:
    """Return what one person has read on a film, the present reading first."""
    own = Reading.objects.filter(film=film, reader=reader)
    rows: QuerySet[Reading] = own.select_related("calibration_used")
    return sorted(rows, key=lambda row: (row.superseded_by_id is not None, -row.pk))


def _with_injury(rows: QuerySet[Any]) -> QuerySet[Any]:
    return rows.select_related("injury__patient", "site")
