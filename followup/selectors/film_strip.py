"""The films of one injury from the injury to now, so that change is seen and not remembered."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from followup import notices
from followup.models.films import Film
from followup.rules.finding_changes import changes as changes_of
from followup.rules.finding_changes import of_film
from followup.selectors.clinic import FilmLine
from followup.selectors.findings import found_in, lines_of
from registry.models.sites import Site


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
TOO_LATE = "too late for the site's baseline (by day {})"
NOT_READ = ("not read yet",)


def baseline_days_of(site: Site) -> int | None:
    """Return the last day after an operation on which a film can be a site's baseline.

    That is what the definition says which the site calls its own for the loss of reduction; None
    where it chose none. The room above answers.
    """
    answers: Any = notices.baseline_window_asked.send(sender=Site, site=site)
    return next((days for _, days in answers if days is not None), None)


def strip_of(
    films: Sequence[FilmLine], operated_on: date, *, baseline_days: int | None = None
) -> tuple[StripFilm, ...]:
    """Return the films in order; the first after the operation and the other side are pinned.

    The first is a measured one where there is any, as the change of the later ones is told against
    it; taken after `baseline_days` it is said to be too late for a baseline. No query where films
    were fetched with their readings and pictures.
    """
    baseline = _baseline(films, operated_on)
    first = BASELINE
    if baseline is not None and baseline_days is not None:
        late = (baseline.taken_on - operated_on).days > baseline_days
        first += f", {TOO_LATE.format(baseline_days)}" if late else ""
    other = next((line.film for line in reversed(films) if line.film.shows_both_sides), None)
    changed = changes_of(
        (line.film.taken_on, of_film([found_in(one) for one in line.readings])) for line in films
    )
    return tuple(
        _strip_film(line, operated_on, baseline, other, first=first, changes=told)
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
    first: str,
    changes: tuple[str, ...],
) -> StripFilm:
    # The checker of types does not see the way back from a picture to its film.
    film: Any = line.film
    roles = (
        (first, film is baseline),
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
