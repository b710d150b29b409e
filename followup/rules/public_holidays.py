"""The public holidays of a country, or of a part of it."""

from collections.abc import Collection, Mapping
from datetime import date
from functools import lru_cache

import holidays


def check_place(country: str, subdivision: str) -> None:
    """Refuse a country, or a part of it, whose holidays are not known.

    Raises ValueError that names it and what there is.
    """
    known = _places()
    if country not in known:
        raise ValueError(f"no public holidays are known for the country '{country}'")
    if subdivision and subdivision not in known[country]:
        parts = ", ".join(known[country]) or "none"
        raise ValueError(
            f"'{subdivision}' is not a part of '{country}' with public holidays of its own; "
            f"there are {parts}"
        )


def of_years(country: str, subdivision: str, years: Collection[int]) -> Mapping[date, str]:
    """Return the public holidays of some years with their names, by day.

    Raises ValueError for a country or part that is not known.
    """
    check_place(country, subdivision)
    found: dict[date, str] = {}
    for year in sorted(years):
        found |= _of_year(country, subdivision, year)
    return found


@lru_cache(maxsize=1)
def _places() -> dict[str, list[str]]:
    return holidays.list_supported_countries()


@lru_cache(maxsize=256)
def _of_year(country: str, subdivision: str, year: int) -> dict[date, str]:
    known = holidays.country_holidays(country, subdiv=subdivision or None, years=year)
    # What is taken on another day of the next year belongs to that year.
    return {on: name for on, name in known.items() if on.year == year}
