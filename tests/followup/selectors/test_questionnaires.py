"""What a site asks: the shipped form, its own choice, its words and its advice."""

from datetime import timedelta

import pytest

from followup.models import ProtocolStep, Questionnaire, QuestionnaireSetup, UrgentAdvice, Wording
from followup.selectors import questionnaires as selector
from tests import builders
from tests.builders import NOW
from tests.followup.asked import ADVICE, RAT, TELEPHONE, invited, site_that_asks, wording

pytestmark = pytest.mark.usefixtures("defaults")


def step(code: str) -> ProtocolStep:
    return ProtocolStep.objects.filter(code=code).earliest("id")


def test_a_site_that_has_chosen_nothing_invites_nobody() -> None:
    setup = selector.setup_of(builders.site())
    assert (setup.pk, setup.invites, setup.expiry_days, setup.reminder_days) == (
        *(None, False, 21),
        [7, 12],
    )
    assert selector.languages_of(builders.site().pk) == []


def test_a_site_asks_in_the_languages_of_its_advice() -> None:
    site = site_that_asks()
    assert selector.languages_of(site.pk) == ["en", "de"]
    UrgentAdvice.objects.filter(language="en").delete()
    assert selector.languages_of(site.pk) == ["de"]


def test_the_newest_advice_counts_and_another_language_stands_in() -> None:
    site = site_that_asks()
    assert selector.advice_for(site.pk, "de") == RAT
    UrgentAdvice.objects.create(
        site=site, language="en", number=2, text="Ring us.", made_at=NOW + timedelta(days=1)
    )
    assert selector.advice_for(site.pk, "en") == "Ring us."
    UrgentAdvice.objects.filter(language="de").delete()
    assert selector.advice_for(site.pk, "de") == "Ring us."
    assert selector.advice_for(builders.site("south").pk, "en") == ""
    assert ADVICE != RAT


def test_the_shipped_form_holds_until_the_site_chooses() -> None:
    six = step("6m")
    assert "quickdash" in selector.contents_of(six, {})
    assert selector.contents_of(step("baseline"), {}) == ()
    assert selector.contents_of(six, {"6m": ["work", "pain"]}) == ("pain", "work")


def test_the_newest_choice_of_a_step_counts() -> None:
    site = builders.site()
    for number, contents in ((2, ["pain"]), (1, ["work"])):
        Questionnaire.objects.create(
            site=site, step_code="6m", number=number, contents=contents, made_at=NOW
        )
    assert selector.chosen_contents(site.pk) == {"6m": ["pain"]}


@pytest.mark.parametrize(("code", "days"), [("2w", 14), ("6w", 42), ("6m", 181), ("12m", 365)])
def test_a_step_lies_so_many_days_after_the_operation(code: str, days: int) -> None:
    assert selector.offset_days(step(code)) == days


def test_an_instrument_is_asked_only_in_a_language_in_which_its_words_are_in_use() -> None:
    invitation, _ = invited()
    assert "quickdash" in invitation.contents
    row = wording(invitation.site, language="de")

    def codes(language: str) -> set[str]:
        words = selector.words_for(invitation.site_id, language)
        return {page.instrument for page in selector.pages_for(invitation, words)}

    assert codes("de") == {"", "quickdash"}
    assert codes("en") == {""}
    assert selector.words_for(invitation.site_id, "de").rows == {"quickdash": row.pk}
    Wording.objects.update(in_use=False)
    assert codes("de") == {""}


def test_the_words_of_one_site_are_not_those_of_another() -> None:
    wording(site_that_asks("south"))
    assert selector.words_for(site_that_asks("north").pk, "en").items == {}


def test_the_routes_are_those_of_sites_that_gave_a_number() -> None:
    site_that_asks("north")
    QuestionnaireSetup.objects.create(site=builders.site("south"))
    builders.site("west", telephone="0555 010 9")
    shown = [(route.name, route.telephone) for route in selector.routes()]
    assert shown == [("North Hospital", TELEPHONE)]


def test_what_is_in_use_and_what_is_newest_are_listed() -> None:
    site = site_that_asks()
    first = wording(site)
    values = {
        field.name: getattr(first, field.name)
        for field in Wording._meta.concrete_fields
        if field.name not in ("id", "number", "in_use")
    }
    Wording.objects.create(**values, number=2)
    newest = Wording.objects.create(**values, number=3)
    assert selector.latest_wordings([site.pk]) == [first, newest]
