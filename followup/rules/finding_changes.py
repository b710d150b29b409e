"""What is new on a film, or has changed since the last film on which it was looked for."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

from followup.rules.findings import ABSENT, KINDS, NOT_ASSESSABLE, Found

OfFilm = Mapping[str, Found]


def of_film(readings: Sequence[Sequence[Found]]) -> OfFilm:
    """Join what several readers found on one film, by kind.

    It is there when any of them says so, with the highest grade; else absent when any looked and
    did not see it. So counts the hardware of a film in every figure.
    """
    joined: dict[str, Found] = {}
    for one in (found for reading in readings for found in reading):
        stood = joined.get(one.kind)
        if stood is None or _weight(one) > _weight(stood):
            joined[one.kind] = one
    return joined


def _weight(one: Found) -> tuple[int, int]:
    rank = {ABSENT: 1, NOT_ASSESSABLE: 2}
    return (3, one.grade or 0) if one.is_there else (rank.get(one.state, 0), 0)


def changes(films: Iterable[tuple[date, OfFilm]]) -> list[tuple[str, ...]]:
    """Return for each film, in the order of their days, what is new or changed, in words.

    Each kind is held against the last day on which it was judged, also where films between did not
    look for it; films of one day are not held against each other. What is there on the first film
    that looked is new only in so far as nobody had looked before, and is said so.
    """
    last: dict[str, Found] = {}
    today: dict[str, Found] = {}
    day, told = None, []
    for on, film in films:
        if on != day:
            last, today, day = {**last, **today}, {}, on
        told.append(tuple(words for kind in KINDS if (words := _change(film.get(kind), last))))
        judged = [one for one in film.values() if one.is_there or one.state == ABSENT]
        today = dict(of_film([list(today.values()), judged]))
    return told


def _change(now: Found | None, last: Mapping[str, Found]) -> str:
    if now is None:
        return ""
    before = last.get(now.kind)
    if now.is_there:
        return _there(now, before)
    if before is None or not before.is_there:
        return ""
    if now.state == ABSENT:
        return f"no longer seen: {before.words}"
    if now.state == NOT_ASSESSABLE:
        return f"cannot be judged now: {before.words}"
    return ""


def _there(now: Found, before: Found | None) -> str:
    if before is None:
        return f"seen, not looked for before: {now.words}"
    if not before.is_there:
        return f"new: {now.words}"
    if now.grade != before.grade:
        return f"changed: {now.words}, before grade {before.grade}"
    if now.place != before.place and now.place:
        return f"changed: {now.words}, before: {before.words}"
    return ""
