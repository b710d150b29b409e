"""Setting up what is asked at home: checked, numbered, and never changed behind anybody's back."""

from collections.abc import Mapping
from typing import Any

import pytest

from followup.models import Questionnaire, QuestionnaireSetup, UrgentAdvice, Wording
from followup.selectors import questionnaires as selector
from followup.services import questionnaires as service
from registry.errors import BadInput, StaleVersion
from registry.models import Person, Site
from registry.services import setup
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup.asked import PASTED, TELEPHONE, site_that_asks, wording

VALUES: Mapping[str, Any] = {
    "invites": True,
    "expiry_days": 21,
    "reminder_days": [7, 12],
}
PASTE: Mapping[str, Any] = {
    "instrument": "quickdash",
    "language": "de",
    "edition": "German 2",
    "licence_note": "licence 12 of its owner",
    "pasted": PASTED,
}


def save(by: Person, version: int = 1, **changed: Any) -> QuestionnaireSetup:
    row = selector.setup_of(builders.site())
    values = {**VALUES, **changed}
    return service.save_setup(row=row, values=values, expected_version=version, by=by)


def test_a_site_invites_once_it_has_advice_and_a_telephone(administrator: Person) -> None:
    Site.objects.filter(pk=builders.site().pk).update(telephone=TELEPHONE)
    with pytest.raises(BadInput, match="First write the advice"):
        save(administrator)
    service.save_advice(
        site=builders.site(),
        language="en",
        text="Ring us.",
        expected_latest=0,
        by=administrator,
        now=NOW,
    )
    Site.objects.update(telephone=" ")
    with pytest.raises(BadInput, match="number that a worried patient rings"):
        save(administrator)
    Site.objects.update(telephone=TELEPHONE)
    assert save(administrator).invites
    with pytest.raises(StaleVersion):
        save(administrator, version=7, expiry_days=30)
    assert save(administrator, reminder_days=[]).reminder_days == []


def test_a_site_that_asks_keeps_its_number(administrator: Person) -> None:
    site = site_that_asks()
    saved = {"expected_version": 1, "by": administrator, "now": NOW, "today": TODAY}
    with pytest.raises(BadInput, match="says where a worried patient rings"):
        setup.save_site(site=site, values={"telephone": " "}, **saved)
    assert Site.objects.get().telephone == TELEPHONE
    setup.save_site(site=Site.objects.get(), values={"telephone": "0555 2"}, **saved)
    QuestionnaireSetup.objects.update(invites=False)
    saved["expected_version"] = 2
    setup.save_site(site=Site.objects.get(), values={"telephone": ""}, **saved)
    assert Site.objects.get().telephone == ""


@pytest.mark.parametrize(
    ("days", "said"), [([12, 7], "rising order"), ([30], "A reminder on day 30 makes no sense")]
)
def test_reminders_that_make_no_sense_are_refused(
    administrator: Person, days: list[int], said: str
) -> None:
    site_that_asks()
    with pytest.raises(BadInput, match=said):
        save(administrator, reminder_days=days)


def test_advice_is_kept_by_number_and_the_newest_counts(administrator: Person) -> None:
    site = builders.site()
    at = {"site": site, "language": "en", "by": administrator, "now": NOW}
    service.save_advice(text="Ring us.", expected_latest=0, **at)
    with pytest.raises(StaleVersion):
        service.save_advice(text="Ring them.", expected_latest=0, **at)
    service.save_advice(text="Ring at once.", expected_latest=1, **at)
    assert selector.advice_for(site.pk, "en") == "Ring at once."
    assert list(UrgentAdvice.objects.order_by("number").values_list("text", flat=True)) == [
        *("Ring us.", "Ring at once.")
    ]


@pytest.mark.parametrize(("language", "text"), [("en", "  "), ("xx", "Ring us.")])
def test_advice_without_words_or_language_is_refused(
    administrator: Person, language: str, text: str
) -> None:
    with pytest.raises(BadInput):
        service.save_advice(
            site=builders.site(),
            language=language,
            text=text,
            expected_latest=0,
            by=administrator,
            now=NOW,
        )


def test_a_choice_for_a_step_is_a_new_number_in_the_order_of_asking(
    administrator: Person,
) -> None:
    site = builders.site()
    at = {"site": site, "step_code": "6m", "by": administrator, "now": NOW}
    row = service.choose_contents(contents=["work", "pain"], expected_latest=0, **at)
    assert (row.number, row.contents) == (1, ["pain", "work"])
    with pytest.raises(StaleVersion):
        service.choose_contents(contents=["pain"], expected_latest=0, **at)
    with pytest.raises(BadInput, match="'nonsense' is not known"):
        service.choose_contents(contents=["pain", "nonsense"], expected_latest=1, **at)
    service.choose_contents(contents=[], expected_latest=1, **at)
    assert Questionnaire.objects.count() == 2
    assert selector.chosen_contents(site.pk) == {"6m": []}


def test_a_wording_is_kept_with_its_licence_and_is_not_in_use_yet(administrator: Person) -> None:
    site = builders.site()
    row = service.add_wording(site=site, **PASTE, by=administrator, now=NOW)
    assert (row.number, row.in_use, row.made_by) == (1, False, administrator)
    assert len(row.items) == 11
    again = service.add_wording(site=site, **PASTE, by=administrator, now=NOW)
    assert again.number == 2
    assert selector.words_for(site.pk, "de").items == {}


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"licence_note": " "}, "licence_note"),
        ({"edition": ""}, "edition"),
        ({"pasted": "1. Only one\na\nb\nc\nd\ne"}, "pasted"),
        ({"instrument": "constant"}, "instrument"),
        ({"instrument": "pain_nrs"}, "instrument"),
        ({"language": "xx"}, "instrument"),
    ],
)
def test_a_wording_that_is_not_whole_or_not_licensed_is_refused(
    administrator: Person, changed: dict[str, str], field: str
) -> None:
    with pytest.raises(BadInput) as refused:
        service.add_wording(site=builders.site(), **{**PASTE, **changed}, by=administrator, now=NOW)
    assert set(refused.value.faults) == {field}
    assert not Wording.objects.exists()


def test_one_wording_of_a_language_is_in_use_and_can_be_taken_out(administrator: Person) -> None:
    site = site_that_asks()
    first = wording(site, language="de")
    english = wording(site)
    second = service.add_wording(site=site, **PASTE, by=administrator, now=NOW)
    service.use_wording(wording=second, in_use=True, by=administrator)
    assert set(Wording.objects.filter(in_use=True)) == {second, english}
    service.use_wording(wording=first, in_use=False, by=administrator)
    assert set(Wording.objects.filter(in_use=True)) == {second, english}
    service.use_wording(wording=second, in_use=False, by=administrator)
    assert set(Wording.objects.filter(in_use=True)) == {english}
    service.use_wording(wording=first, in_use=True, by=administrator)
    assert selector.words_for(site.pk, "de").rows == {"quickdash": first.pk}
