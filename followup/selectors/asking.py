"""How a site has set up what it asks at home, as the administrator sees it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Max, Q

from followup.models.protocols import ProtocolStep
from followup.models.questionnaires import (
    Questionnaire,
    QuestionnaireSetup,
    UrgentAdvice,
    Wording,
)
from followup.rules import languages, questions, wordings
from followup.rules.scores.catalogue import INSTRUMENTS
from followup.selectors import questionnaires
from followup.selectors.visible import visible
from registry.models.sites import Site
from registry.selectors.visible import Viewer


@dataclass(frozen=True)
class SiteLine:
    """One site: whether it invites, where patients ring, in which languages it asks."""

    site: Site
    setup: QuestionnaireSetup
    languages: str


@dataclass(frozen=True)
class StepLine:
    """One step: what is asked for it, in words, and whose choice that is."""

    code: str
    name: str
    asked: str
    chosen: bool
    number: int


@dataclass(frozen=True)
class AdviceLine:
    """The advice of one language; `number` is 0 where there is none."""

    language: str
    name: str
    text: str
    number: int


@dataclass(frozen=True)
class InstrumentLine:
    """One instrument in one language: the wording in use, the newest one, and whether it is asked."""

    instrument: str
    language: str
    in_use: Wording | None
    newest: Wording | None
    wanted: bool


def site_lines(user: Viewer) -> list[SiteLine]:
    """Return the sites that a person sets up, in three queries."""
    setups = {row.site_id: row for row in visible(user, QuestionnaireSetup, "set_up")}
    spoken: dict[int, set[str]] = {}
    rows = visible(user, UrgentAdvice, "set_up").order_by().values_list("site_id", "language")
    for site_id, language in rows.distinct():
        spoken.setdefault(site_id, set()).add(language)
    return [
        SiteLine(
            site,
            setups.get(site.pk) or QuestionnaireSetup(site=site),
            ", ".join(languages.SHIPPED[code] for code in sorted(spoken.get(site.pk, ()))),
        )
        for site in visible(user, Site, "set_up")
    ]


def steps_of(site: Site) -> list[ProtocolStep]:
    """Return the steps that a site's protocols may have, one for each code, as last written."""
    own = Q(version__protocol__site=site) | Q(version__protocol__site__isnull=True)
    # A step is called as in the protocol for every construct, where there is one.
    general = Max("pk", filter=Q(version__protocol__construct_type__isnull=True))
    newest = ProtocolStep.objects.filter(own).order_by().values("code")
    found = newest.annotate(general=general, last=Max("pk"))
    rows = ProtocolStep.objects.filter(pk__in=[row["general"] or row["last"] for row in found])
    return sorted(rows, key=lambda step: (questionnaires.offset_days(step), step.code))


def step_lines(site: Site) -> list[StepLine]:
    """Return what is asked for each step of a site."""
    chosen = questionnaires.chosen_contents(site.pk)
    numbers = _numbers(site)
    return [
        StepLine(
            step.code,
            step.name,
            in_words(questionnaires.contents_of(step, chosen)),
            step.code in chosen,
            numbers.get(step.code, 0),
        )
        for step in steps_of(site)
    ]


def latest_number(site: Site, step_code: str) -> int:
    """Return the number of a site's last choice for a step, 0 where it has chosen nothing."""
    return _numbers(site).get(step_code, 0)


def advice_lines(site: Site) -> list[AdviceLine]:
    """Return the advice of each shipped language as it stands."""
    rows = UrgentAdvice.objects.filter(site=site).order_by("number")
    latest = {row.language: row for row in rows}
    return [
        AdviceLine(
            code,
            name,
            latest[code].text if code in latest else "",
            latest[code].number if code in latest else 0,
        )
        for code, name in languages.SHIPPED.items()
    ]


def instrument_lines(site: Site) -> list[InstrumentLine]:
    """Return each licensed instrument in each language in which the site asks."""
    found: dict[tuple[str, str], list[Wording]] = {}
    for row in questionnaires.latest_wordings([site.pk]):
        found.setdefault((row.instrument, row.language), []).append(row)
    chosen = questionnaires.chosen_contents(site.pk)
    asked = {code for step in steps_of(site) for code in questionnaires.contents_of(step, chosen)}
    spoken = questionnaires.languages_of(site.pk) or [languages.FIRST]
    lines = []
    for instrument in wordings.ITEM_FORMS:
        for language in spoken:
            rows = found.get((instrument, language), [])
            in_use = next((row for row in rows if row.in_use), None)
            if rows or instrument in asked:
                lines.append(
                    InstrumentLine(
                        INSTRUMENTS[instrument].name,
                        languages.SHIPPED[language],
                        in_use,
                        rows[-1] if rows else None,
                        instrument in asked,
                    )
                )
    return lines


def in_words(contents: Sequence[str]) -> str:
    """Write what is asked the way a person says it."""
    return (
        ", ".join(
            names()[code].lower() if code in questions.BLOCKS else names()[code]
            for code in contents
        )
        or "nothing"
    )


def names() -> Mapping[str, str]:
    """Return what can be asked, by code, in the order in which it is asked."""
    ours = {code: block.name for code, block in questions.BLOCKS.items()}
    return {**ours, **{code: INSTRUMENTS[code].name for code in wordings.ITEM_FORMS}}


def _numbers(site: Site) -> dict[str, int]:
    rows = Questionnaire.objects.filter(site=site).order_by("number")
    return dict(rows.values_list("step_code", "number"))
