"""One case as it stands this moment: the site's own definition first, and every other that ships."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from typing import Any

from analytics.answers import case as answers
from analytics.answers.case import CaseVerdict
from analytics.answers.nearness import Mdc, shipped_mdc
from analytics.endpoints.catalogue import DEFINITIONS, LOSS, definitions_of
from analytics.endpoints.definition import EndpointDefinition
from analytics.models.definitions import EndpointChoice
from analytics.selectors import frames
from followup.selectors.reading_policies import detectable_changes


@dataclass(frozen=True)
class CasePanel:
    """A case's verdicts: `own` under the site's definition, None where it chose none that ships."""

    performed_on: date
    own: CaseVerdict | None
    others: tuple[CaseVerdict, ...]
    happenings: tuple[tuple[date, str], ...]


def panel_of(procedure: Any, today: date) -> CasePanel:
    """Judge one index procedure by every definition of a lost reduction, in five queries.

    From the rows themselves, by the code that makes the figures, so that it differs from them only
    by what was recorded since their snapshot.
    """
    data, key = frames.of_cases([procedure.pk], today), procedure.pk
    chosen = definition_at(procedure.site_id)
    verdicts = answers.judged(data, key, definitions_of(LOSS), mdc_at(procedure.site_id))
    return CasePanel(
        performed_on=procedure.performed_on,
        own=next((one for one in verdicts if one.definition == chosen), None),
        others=tuple(one for one in verdicts if one.definition != chosen),
        happenings=answers.happenings(data, key),
    )


def definition_at(site_id: int) -> EndpointDefinition | None:
    """Return the definition of a lost reduction that a site calls its own, None where it has none."""
    chosen = EndpointChoice.objects.filter(site_id=site_id, endpoint=LOSS, superseded=False)
    return DEFINITIONS.get(chosen.values_list("definition_id", flat=True).first() or "")


def mdc_at(site_id: int) -> Mdc:
    """Return the minimal detectable change that a site assumes, for definitions that know of one."""
    return mdcs_at([site_id])[site_id]


def mdcs_at(site_ids: Collection[int]) -> dict[int, Mdc]:
    """Return the same of several sites, in one query."""
    return {site_id: _of(mm) for site_id, mm in detectable_changes(site_ids).items()}


def _of(mm: float) -> Mdc:
    return lambda definition: None if shipped_mdc(definition) is None else mm
