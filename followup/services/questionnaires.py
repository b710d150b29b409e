"""Setting up what patients are asked at home: every choice of words or questions is a new number."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, TypeVar

from django.db.models import Max, Model, QuerySet

from followup.models.questionnaires import (
    Questionnaire,
    QuestionnaireSetup,
    UrgentAdvice,
    Wording,
)
from followup.rules import languages, questions, reminding, wordings
from followup.rules.scores.catalogue import INSTRUMENTS
from registry.errors import BadInput, StaleVersion
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import records, setup

Row = TypeVar("Row", bound=Model)


def save_setup(
    *, row: QuestionnaireSetup, values: Mapping[str, Any], expected_version: int, by: Person
) -> QuestionnaireSetup:
    """Save whether, until when and how often a site asks at home.

    Raises StaleVersion when somebody changed it first; BadInput for days that make no sense, or for
    a site that would invite without a telephone number or without urgent advice in any language.
    """
    try:
        days = reminding.checked_days(values["reminder_days"], values["expiry_days"])
    except ValueError as fault:
        raise BadInput({"reminder_days": str(fault)}) from fault
    if values["invites"] and not Site.objects.get(pk=row.site_id).telephone.strip():
        told = f"First give the number that a worried patient rings, under Sites, {row.site}."
        raise BadInput({"invites": told})
    if values["invites"] and not UrgentAdvice.objects.filter(site=row.site).exists():
        told = "First write the advice for alarming answers; it says in which languages you ask."
        raise BadInput({"invites": told})
    return setup.save_versioned(
        row, {**values, "reminder_days": list(days)}, expected_version=expected_version, by=by
    )


def need_telephone(*, site: Site) -> None:
    """Refuse to take away the number of a site that asks patients at home.

    Raises BadInput.
    """
    asks = QuestionnaireSetup.objects.filter(site=site, invites=True)
    if not site.telephone.strip() and asks.exists():
        told = "This site asks patients at home, and each page says where a worried patient rings."
        raise BadInput({"telephone": told})


def save_advice(
    *, site: Site, language: str, text: str, expected_latest: int, by: Person, now: datetime
) -> UrgentAdvice:
    """Save a site's words for an alarming answer; those before stay as they were.

    Raises BadInput without words or for a language that is not shipped, StaleVersion when there is
    a newer text than the one that was seen.
    """
    if language not in languages.SHIPPED:
        raise BadInput({"language": f"'{language}' is not shipped."})
    if not text.strip():
        raise BadInput({"text": "Say what a patient has to do at once, and where to ring."})
    with records.change(by=by, reason="advice for alarming answers"):
        rows = UrgentAdvice.objects.filter(site=site, language=language)
        number = _next_number(site, rows, "The advice", expected_latest)
        return _keep(
            UrgentAdvice(
                site=site,
                language=language,
                number=number,
                text=text.strip(),
                made_at=now,
                made_by=by,
            )
        )


def choose_contents(
    *,
    site: Site,
    step_code: str,
    contents: Sequence[str],
    expected_latest: int,
    by: Person,
    now: datetime,
) -> Questionnaire:
    """Choose what is asked for a step from now on; who was invited before is asked as it was.

    Raises BadInput for what is not known, StaleVersion when there is a newer choice than was seen.
    """
    unknown = sorted(set(contents) - set(questions.in_order(contents)))
    if unknown:
        raise BadInput({"contents": f"'{unknown[0]}' is not known."})
    with records.change(by=by, reason="what is asked at home"):
        rows = Questionnaire.objects.filter(site=site, step_code=step_code)
        number = _next_number(site, rows, "What is asked", expected_latest)
        return _keep(
            Questionnaire(
                site=site,
                step_code=step_code,
                number=number,
                contents=list(questions.in_order(contents)),
                made_at=now,
                made_by=by,
            )
        )


def add_wording(
    *,
    site: Site,
    instrument: str,
    language: str,
    edition: str,
    licence_note: str,
    pasted: str,
    by: Person,
    now: datetime,
) -> Wording:
    """Keep the items of an instrument as a site pasted them under its own licence, not yet in use.

    Raises BadInput naming the item that is wrong or missing, or the field that is needed.
    """
    if instrument not in wordings.ITEM_FORMS or language not in languages.SHIPPED:
        raise BadInput({"instrument": f"'{instrument}' in '{language}' cannot be asked."})
    for field, text in (("edition", edition), ("licence_note", licence_note)):
        if not text.strip():
            raise BadInput({field: "This is needed: the words are not ours, but your licence's."})
    try:
        items = wordings.parse(pasted, wordings.ITEM_FORMS[instrument])
    except ValueError as fault:
        raise BadInput({"pasted": str(fault)}) from fault
    with records.change(by=by, reason=f"licence: {licence_note}"):
        rows = Wording.objects.filter(site=site, instrument=instrument, language=language)
        number = _next_number(site, rows, INSTRUMENTS[instrument].name, None)
        return _keep(
            Wording(
                site=site,
                instrument=instrument,
                language=language,
                number=number,
                edition=edition.strip(),
                licence_note=licence_note.strip(),
                items=wordings.kept(items),
                made_at=now,
                made_by=by,
            )
        )


def use_wording(*, wording: Wording, in_use: bool, by: Person) -> None:
    """Take a wording into use instead of the one before it, or out of use; its words stay."""
    with records.change(by=by, reason="wording in use" if in_use else "wording out of use"):
        _hold(wording.site)
        same = Wording.objects.filter(
            site=wording.site, instrument=wording.instrument, language=wording.language
        )
        others = same.filter(in_use=True)
        (others.exclude(pk=wording.pk) if in_use else others.filter(pk=wording.pk)).update(
            in_use=False
        )
        if in_use:
            same.filter(pk=wording.pk).update(in_use=True)
    wording.in_use = in_use


def _next_number(site: Site, rows: QuerySet[Any], what: str, expected_latest: int | None) -> int:
    _hold(site)
    latest = rows.aggregate(number=Max("number"))["number"] or 0
    if expected_latest is not None and latest != expected_latest:
        raise StaleVersion(what, expected=expected_latest, current=latest)
    return int(latest) + 1


def _hold(site: Site) -> None:
    """Let two who set up one site at once come one after the other."""
    Site.objects.select_for_update(no_key=True).get(pk=site.pk)


def _keep(row: Row) -> Row:
    records.check(row)
    row.save()
    return row
