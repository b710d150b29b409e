"""Whose reduction may be lost: the alerts for a person, each with its two films as they read now."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from analytics.answers.case import CaseVerdict, SeenFilm, verdict_of
from analytics.answers.case_words import ABOVE, amount, explain
from analytics.answers.nearness import Mdc
from analytics.endpoints.catalogue import DEFINITIONS, apply
from analytics.endpoints.definition import Applied, Data, EndpointDefinition
from analytics.models.alerts import AlertState, LossAlert
from analytics.selectors import frames
from analytics.selectors.case_panel import mdcs_at
from analytics.selectors.visible import visible
from followup.selectors.film_pictures import pictures_by_film
from registry.models.sites import Membership, Role
from registry.selectors.visible import Viewer

# So long an alert that was taken back is still told of, since somebody may have acted on it.
TOLD_DAYS = 14


@dataclass(frozen=True)
class FilmSide:
    """One of the two films that stand beside each other; `image_id` is its picture, if there is one."""

    words: str
    number: str
    short: str
    seen: SeenFilm
    image_id: int | None


@dataclass(frozen=True)
class AlertLine:
    """One alert as it stands now: the first film, the film that says so, and the verdict in a sentence."""

    alert: LossAlert
    sentence: str
    films: tuple[FilmSide, ...]
    days_old: int


def alerts(user: Viewer) -> "QuerySet[Any]":
    """Return the alerts of a person's sites, with what names a case; not those of others' sites."""
    rows: QuerySet[Any] = visible(user, LossAlert, "see_losses")
    return rows.select_related(
        "site", "surgeon", "procedure__injury__patient", "procedure__construct__construct_type"
    )


def of_person(user: Viewer, today: date) -> "QuerySet[Any]":
    """Return the alerts that are for a person: of whom they operated, and whose surgeon has left."""
    return alerts(user).filter(Q(surgeon_id=user.pk) | Q(surgeon__isnull=True) | ~in_office(today))


def in_office(today: date) -> Exists:
    """Say of alerts whether who operated still is an active surgeon of the site."""
    return Exists(
        Membership.objects.filter(
            Q(ends_on__isnull=True) | Q(ends_on__gte=today),
            person=OuterRef("surgeon"),
            person__is_active=True,
            site=OuterRef("site"),
            role=Role.SURGEON,
            starts_on__lte=today,
        )
    )


def waiting(user: Viewer, today: date, *, whole_site: bool = False) -> "QuerySet[Any]":
    """Return what nobody has acknowledged, lost before near, the oldest first."""
    rows = alerts(user) if whole_site else of_person(user, today)
    return rows.filter(state=AlertState.OPEN).order_by("level", "raised_at", "id")


def settled(user: Viewer, today: date, now: datetime, *, whole_site: bool) -> "QuerySet[Any]":
    """Return what was planned and is to come, and what was taken back of late, the newest first."""
    rows = alerts(user) if whole_site else of_person(user, today)
    lately = Q(state=AlertState.TAKEN_BACK, closed_at__gte=now - timedelta(days=TOLD_DAYS))
    ahead = Q(state=AlertState.PLANNED, due_on__gte=today - timedelta(days=TOLD_DAYS))
    return rows.filter(lately | ahead).order_by("-raised_at", "-id")


def lines(found: Sequence[LossAlert], now: datetime, today: date) -> list[AlertLine]:
    """Return each alert with its case as it reads now; the same five queries for any number."""
    data = frames.of_cases([one.procedure_id for one in found], today)
    mdcs = mdcs_at({one.site_id for one in found})
    judged: dict[str, Applied] = {}
    verdicts = {one.pk: _verdict(one, data, judged, mdcs[one.site_id]) for one in found}
    sides = [film for one in verdicts.values() for film in _films(one)]
    images = pictures_by_film([film.film_id for film in sides])
    return [_line(one, verdicts[one.pk], images, now) for one in found]


def _verdict(
    alert: LossAlert, data: Data, judged: dict[str, Applied], mdc: Mdc
) -> CaseVerdict | None:
    definition = definition_of(alert)
    if definition is None or alert.procedure_id not in data.cases.index:
        return None
    if definition.id not in judged:
        judged[definition.id] = apply(definition, data)
    return verdict_of(judged[definition.id], data, alert.procedure_id, mdc)


def definition_of(alert: LossAlert) -> EndpointDefinition | None:
    """Return the definition that raised an alert, None where that version ships no more."""
    found = DEFINITIONS.get(alert.definition_id)
    same = found is not None and found.version == alert.definition_version
    return found if same else None


def _films(verdict: CaseVerdict | None) -> tuple[SeenFilm, ...]:
    if verdict is None:
        return ()
    standing = verdict.standing
    says = next(
        (one for one in verdict.films if standing and one.film_id == standing.film_id), None
    )
    shown = (verdict.baseline, says or verdict.decided_by)
    return tuple(dict.fromkeys(one for one in shown if one is not None))


def _line(
    alert: LossAlert, verdict: CaseVerdict | None, images: dict[int, int], now: datetime
) -> AlertLine:
    if verdict is None:
        said = "The definition that raised this ships no more, or the case is void."
        return AlertLine(alert, said, (), (now - alert.raised_at).days)
    films = tuple(
        FilmSide(
            words="First film" if film == verdict.baseline else "This film",
            number=_number(film, verdict),
            short=_length(film, verdict) or "no length",
            seen=film,
            image_id=images.get(film.film_id),
        )
        for film in _films(verdict)
    )
    return AlertLine(alert, explain(verdict), films, (now - alert.raised_at).days)


def _number(film: SeenFilm, verdict: CaseVerdict) -> str:
    length, by_definition = _length(film, verdict), ""
    what = "translation" if verdict.definition.rule == "displacement" else "CC distance"
    if film.measure is not None and film != verdict.baseline:
        more = ABOVE[verdict.definition.rule]
        by_definition = f"{amount(film.measure, verdict.definition)} {more}"
    parts = [f"{what} {length}" if length else "", by_definition]
    return ", ".join(one for one in parts if one) or "no number"


def _length(film: SeenFilm, verdict: CaseVerdict) -> str:
    if film.now is None:
        return ""
    return (
        f"{film.now:.0f} %" if verdict.definition.rule == "displacement" else f"{film.now:.1f} mm"
    )
