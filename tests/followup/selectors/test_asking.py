"""How the administrator sees what is asked at home."""

import pytest

from followup.models import Questionnaire
from followup.selectors import asking as selector
from registry.models import Person
from tests import builders
from tests.builders import NOW
from tests.followup.asked import TELEPHONE, site_that_asks, wording

pytestmark = pytest.mark.usefixtures("defaults")


def test_sites_are_listed_with_the_languages_that_they_ask_in(administrator: Person) -> None:
    site_that_asks()
    site_that_asks("south")
    (line,) = selector.site_lines(administrator)
    assert (line.site, line.site.telephone, line.languages) == (
        *(builders.site(), TELEPHONE),
        "Deutsch, English",
    )


def test_each_step_says_what_is_asked_and_by_whose_choice() -> None:
    site = site_that_asks()
    Questionnaire.objects.create(
        site=site, step_code="6m", number=3, contents=["pain", "oss"], made_at=NOW
    )
    lines = {line.code: line for line in selector.step_lines(site)}
    assert (lines["6m"].asked, lines["6m"].chosen, lines["6m"].number) == (
        *("pain, 0 to 10, Oxford Shoulder Score", True),
        3,
    )
    assert lines["2w"].asked.startswith("wound and fever")
    assert not lines["2w"].chosen
    assert lines["baseline"].asked == "nothing"
    assert [line.code for line in selector.step_lines(site)][:3] == ["baseline", "2w", "r2w"]
    assert selector.latest_number(site, "6m") == 3
    assert selector.latest_number(site, "2w") == 0


def test_an_instrument_without_words_is_said_not_to_be_offered() -> None:
    site = site_that_asks()
    row = wording(site, language="de")
    lines = {(line.instrument, line.language): line for line in selector.instrument_lines(site)}
    assert lines["QuickDASH", "Deutsch"].in_use == row
    assert lines["QuickDASH", "English"].in_use is None
    assert lines["QuickDASH", "English"].wanted
    assert ("DASH", "English") not in lines


def test_every_shipped_language_shows_its_advice_or_that_there_is_none() -> None:
    lines = {line.language: line for line in selector.advice_lines(builders.site())}
    assert {code: line.number for code, line in lines.items()} == {"en": 0, "de": 0}
    site_that_asks()
    assert selector.advice_lines(builders.site())[0].text.startswith("Ring us")


def test_what_can_be_asked_has_a_name() -> None:
    names = selector.names()
    assert names["hardware"] == "What the hardware does"
    assert names["quickdash"] == "QuickDASH"
    assert selector.in_words([]) == "nothing"
