"""The films of one injury from the injury to now, so that change is seen and not remembered."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from followup.models.films import Film
from followup.rules.finding_changes import changes as changes_of
from followup.rules.finding_changes import of_film
from followup.selectors.clinic import FilmLine
from followup.selectors.findings import found_in, lines_of


@dataclass(frozen=True)
class StripFilm:
    """One film of the strip: what it is for the course, when it was, and what was read from it.

    `changes` are findings that are new, or other than on the film before. `image_id` is its picture,
    where there is one.
    """

    film: Film
    roles: tuple[str, ...]
    when: str
    lines: tuple[str, ...]
    changes: tuple[str, ...]
    is_pinned: bool
    image_id: int | None


BASELINE, OTHER, INJURY = "first after the operation", "other side", "before the operation"
NOT_READ = ("not read yet",)


def strip_of(films: Sequence[FilmLine], operated_on: date) -> tuple[StripFilm, ...]:
    """Return the films in order; the first after the operation and the other side are pinned.

    The first is a measured one where there is any, as the change of the later ones is told against
    it. No query where films were fetched with their readings and pictures.
    """
    baseline = _baseline(films, operated_on)
    other = next((line.film for line in reversed(films) if line.film.shows_both_sides), None)
    changed = changes_of(
        (line.film.taken_on, of_film([found_in(one) for one in line.readings])) for line in films
    )
    return tuple(
        _strip_film(line, operated_on, baseline, other, changes=told)
        for line, told in zip(films, changed, strict=True)
    )


def _baseline(films: Sequence[FilmLine], operated_on: date) -> Film | None:
    after = [line for line in films if line.film.taken_on >= operated_on]
    measured = [line for line in after if line.change_mm is not None or line.ratio_pct is not None]
    return next((line.film for line in (*measured, *after)), None)


def _strip_film(
    line: FilmLine,
    operated_on: date,
    baseline: Film | None,
    other: Film | None,
    *,
    changes: tuple[str, ...],
) -> StripFilm:
    # The checker of types does not see the way back from a picture to its film.
    film: Any = line.film
    roles = (
        (BASELINE, film is baseline),
        (OTHER, film is other),
        (INJURY, film.taken_on < operated_on),
    )
    told = tuple(words for words, holds in roles if holds)
    days = (film.taken_on - operated_on).days
    images = list(film.images.all())
    return StripFilm(
        film=film,
        roles=told,
        when=f"day {days}" if days >= 0 else f"{-days} days before the operation",
        lines=_lines(line) or NOT_READ,
        changes=changes,
        is_pinned=film is baseline or film is other,
        image_id=images[0].pk if images else None,
    )


def _lines(line: FilmLine) -> tuple[str, ...]:
    """Say each reading in words, then the change against the first film of this view."""
    told = list(lines_of(line.film))
    if line.change_mm:
        told.append(f"{line.change_mm:+.1f} mm since the first of this view")
    if line.ratio_pct is not None:
        told.append(f"{line.ratio_pct:+.0f}% against the other side")
    return tuple(told)
