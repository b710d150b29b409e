"""What a site asks at home: for which step, in which languages, in whose words, with what advice."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import F, OuterRef, Subquery

from followup.models.protocols import ProtocolStep
from followup.models.questionnaires import (
    Invitation,
    Questionnaire,
    QuestionnaireSetup,
    UrgentAdvice,
    Wording,
)
from followup.rules import languages, questions, windows, wordings
from registry.models.sites import Site

# Any day does: what is asked depends on weeks and months, not on their length in days.
COUNTED_FROM = date(2026, 1, 1)


@dataclass(frozen=True)
class Words:
    """The items of each instrument in one language, and the row that each comes from."""

    items: Mapping[str, Sequence[wordings.ItemWords]]
    rows: Mapping[str, int]


@dataclass(frozen=True)
class ClinicRoute:
    """How a patient reaches a clinic."""

    name: str
    telephone: str


def setup_of(site: Site) -> QuestionnaireSetup:
    """Return how a site asks at home; a row that is not saved yet where it has chosen nothing."""
    return QuestionnaireSetup.objects.filter(site=site).first() or QuestionnaireSetup(site=site)


def languages_of(site_id: int) -> list[str]:
    """Return the languages in which a site asks: those in which it gives its own urgent advice."""
    rows = UrgentAdvice.objects.filter(site_id=site_id).order_by()
    there = set(rows.values_list("language", flat=True).distinct())
    return [code for code in languages.SHIPPED if code in there]


def advice_for(site_id: int, language: str) -> str:
    """Return a site's words for an alarming answer, in another of its languages if need be."""
    rows = UrgentAdvice.objects.filter(site_id=site_id).order_by("number")
    texts = dict(rows.values_list("language", "text"))
    return texts.get(language) or next(iter(texts.values()), "")


def words_for(site_id: int, language: str) -> Words:
    """Return the items that a site has in use in a language."""
    rows = Wording.objects.filter(site_id=site_id, language=language, in_use=True)
    found = list(rows)
    return Words(
        {row.instrument: wordings.restored(row.items) for row in found},
        {row.instrument: row.pk for row in found},
    )


def pages_for(invitation: Invitation, words: Words) -> tuple[questions.Page, ...]:
    """Return the pages of an invitation, in whose language these words are."""
    return questions.pages_of(invitation.contents, words.items)


def chosen_contents(site_id: int) -> dict[str, list[str]]:
    """Return what a site has chosen to ask, by the code of the step."""
    rows = Questionnaire.objects.filter(site_id=site_id).order_by("number")
    return dict(rows.values_list("step_code", "contents"))


def contents_of(step: ProtocolStep, chosen: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    """Return what is asked for a step: what its site has chosen, else what is shipped."""
    if step.code in chosen:
        return questions.in_order(chosen[step.code])
    return questions.shipped_contents(step, offset_days(step))


def offset_days(step: ProtocolStep) -> int:
    """Return how many days after the operation a step is due, by the calendar of an ordinary year."""
    due = windows.add_offset(COUNTED_FROM, step.offset_value, step.offset_unit)
    return (due - COUNTED_FROM).days


def routes() -> list[ClinicRoute]:
    """Return the clinics that have given a telephone number for their patients."""
    rows = Site.objects.filter(is_active=True, questionnaire_setup__isnull=False)
    found = rows.exclude(telephone="").order_by("name").values_list("name", "telephone")[:20]
    return [ClinicRoute(name, telephone) for name, telephone in found]


def latest_wordings(site_ids: Sequence[int]) -> list[Wording]:
    """Return each wording in use and the newest of each instrument and language, newest last."""
    newest = (
        Wording.objects.filter(
            site=OuterRef("site"), instrument=OuterRef("instrument"), language=OuterRef("language")
        )
        .order_by("-number")
        .values("pk")[:1]
    )
    rows = Wording.objects.filter(site__in=site_ids).annotate(newest=Subquery(newest))
    shown = rows.filter(pk=F("newest")) | rows.filter(in_use=True)
    return list(shown.order_by("instrument", "language", "number"))
