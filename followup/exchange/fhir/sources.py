"""Where resources come from: the rows of a person, how one is written, and how it is searched."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial
from typing import Any

from django.db.models import Q, QuerySet

from followup.exchange.fhir import observations, params
from followup.exchange.fhir.params import Param
from followup.selectors import fhir_rows as followed
from registry.exchange.fhir import terms
from registry.rules.fhir import loinc
from registry.rules.fhir.elements import TERMINOLOGY, Json
from registry.rules.fhir.queries import TOKEN
from registry.selectors.fhir_rows import Seer, chosen

CATEGORY = f"{TERMINOLOGY}/observation-category"
Rows = Callable[..., QuerySet[Any]]
Write = Callable[[Any, Seer], Json]


@dataclass(frozen=True)
class Source:
    """Where resources of one type come from: the rows seen, the resource of a row, its parameters.

    `prefix` begins the id of what is made from it, `narrow` is what every row of it meets.
    """

    rows: Rows
    write: Write
    params: Mapping[str, Param]
    prefix: str = ""
    lookup: str = "pk"
    narrow: Q = field(default_factory=Q)

    def seen(self, seer: Seer, *, voided: bool = False) -> QuerySet[Any]:
        """Return its rows as a person sees them."""
        return chosen(self.rows(seer, voided=voided).filter(self.narrow), seer)


def of(path: str, **more: Param) -> dict[str, Param]:
    """Return the parameters that lead to a patient, and others; '_' stands for '-'."""
    whose = params.patient(path)
    named = {name.replace("_", "-"): one for name, one in more.items()}
    return {"patient": whose, "subject": whose, **named}


def by_names(write: Callable[..., Json], word: str, site: str = "site_id") -> Write:
    """Return how a row is written, by name where the person sees names at its site."""

    def written(row: Any, seer: Seer) -> Json:
        return write(row, **{word: getattr(row, site) in seer.names})

    return written


def by_name(write: Callable[..., Json]) -> Write:
    """Return the same, where it is the people of the service and free text that are named."""
    return by_names(write, "by_name")


def plain(write: Callable[[Any], Json]) -> Write:
    """Return how a row is written that names nobody."""

    def written(row: Any, seer: Seer) -> Json:
        return write(row)

    return written


def _finding(row: Any, seer: Seer) -> Json:
    return observations.finding(row, by_name=row.site_id in seer.names)


def statuses(**codes: Q) -> Param:
    """Return a status by FHIR's codes, '_' standing for '-'; voided rows are not searched."""
    known: dict[tuple[str, str], Q | None] = {
        ("", code.replace("_", "-")): rows for code, rows in codes.items()
    }

    def met(value: str, seer: Seer, now: datetime) -> Q | None:
        code = value.rpartition("|")[2]
        return known.get(("", code))

    return Param(TOKEN, met)


def _coded(measure: str, *also: tuple[str, Q | None]) -> Param:
    ours: dict[tuple[str, str], Q | None] = {(terms.system("measure"), measure): None}
    ours.update({(loinc.SYSTEM, code): rows for code, rows in also})
    return params.matching_token(ours)


def _category(code: str) -> Param:
    return params.matching_token({(CATEGORY, code): None})


def _recorded(column: str) -> Q:
    """Return the rows that hold a measured column, or say why they do not."""
    return Q(**{f"{column}__isnull": False}) | Q(missing__has_key=column)


def _motion(measure: str) -> Source:
    also = [
        (code, Q(side=side, mode=mode) if side else Q(mode=mode))
        for (one, side, mode), code in observations.MOTION_LOINC.items()
        if one == measure
    ]
    by_angle = measure in observations.ANGLES
    column = observations.ANGLES.get(measure, "internal_rotation")
    held = _recorded(column) if by_angle else ~Q(internal_rotation="") | Q(missing__has_key=column)
    write = partial(observations.angle, measure=measure) if by_angle else observations.rotation
    return Source(
        followed.motion_exams,
        plain(write),
        of(
            "injury__patient__key",
            code=_coded(measure, *also),
            date=params.days("examined_on"),
            status=statuses(final=Q()),
            category=_category(observations.EXAM),
        ),
        prefix=f"motion-{measure}",
        narrow=held,
    )


CURRENT_READING = statuses(final=Q(supersedes__isnull=True), corrected=Q(supersedes__isnull=False))


def _reading(part: str, measure: str, narrow: Q, write: Callable[..., Json]) -> Source:
    return Source(
        followed.readings,
        by_name(write),
        of(
            "film__injury__patient__key",
            code=_coded(measure),
            date=params.days("film__taken_on"),
            status=CURRENT_READING,
            category=_category(observations.IMAGING),
        ),
        prefix=f"reading-{part}",
        narrow=narrow,
    )


def observation_sources() -> tuple[Source, ...]:
    """Return every source of observations, in the order of their pages."""
    pain = {
        (loinc.SYSTEM, code): Q(instrument=one) for one, code in observations.SCORE_LOINC.items()
    }
    return (
        *(_motion(measure) for measure in (*observations.ANGLES, "internal-rotation")),
        Source(
            followed.scores,
            by_name(observations.score),
            of(
                "injury__patient__key",
                code=_score_code(pain),
                date=params.days("taken_on"),
                status=statuses(final=Q()),
                category=_category(observations.SURVEY),
            ),
            prefix="score",
        ),
        *(
            _reading(part, measure, _recorded(column), partial(observations.length, part=part))
            for part, (measure, column, _, _) in observations.LENGTHS.items()
        ),
        *(
            _reading(measure, measure, Q(), partial(observations.judgement, measure=measure))
            for measure in observations.JUDGED
        ),
        Source(
            followed.findings,
            _finding,
            of(
                "reading__film__injury__patient__key",
                code=params.column_token("kind", "finding"),
                date=params.days("reading__film__taken_on"),
                status=statuses(
                    final=Q(reading__supersedes__isnull=True),
                    corrected=Q(reading__supersedes__isnull=False),
                ),
                category=_category(observations.IMAGING),
            ),
            prefix="finding",
        ),
        Source(
            followed.not_obtained,
            by_name(observations.not_obtained),
            of(
                "procedure__injury__patient__key",
                code=_coded("not-obtained"),
                date=params.days("told_on"),
                status=statuses(final=Q()),
                category=_category(observations.SURVEY),
            ),
            prefix="not-obtained",
        ),
    )


def _score_code(pain: Mapping[tuple[str, str], Q]) -> Param:
    ours, theirs = params.column_token("instrument", "instrument"), params.matching_token(pain)

    def met(value: str, seer: Seer, now: datetime) -> Q | None:
        found = [one for one in (p.condition(value, seer, now) for p in (ours, theirs)) if one]
        return None if not found else found[0] if len(found) == 1 else found[0] | found[1]

    return Param(TOKEN, met)
