"""What a patient reads is whole in every language that is shipped, and compiled as it is written."""

import re
from io import BytesIO
from pathlib import Path

import pytest
from babel.messages import extract, mofile, pofile
from babel.messages.catalog import Catalog
from django.conf import settings
from django.utils import translation

from followup.rules import questions
from followup.rules.languages import FIRST, SHIPPED, TAGS

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "followup" / "locale"
OTHERS = sorted(set(SHIPPED) - {FIRST})
WRITTEN = ("rules/questions.py", "forms/questionnaires.py", "views/questionnaires.py")
IN_PAGES = re.compile(r"{%\s*translate\s+\"([^\"]+)\"\s*%}")


def said() -> set[str]:
    """Return every text that a patient may read, collected from code and pages."""
    found = set()
    for name in WRITTEN:
        with (ROOT / "followup" / name).open("rb") as source:
            keywords = {"N_": None, "gettext": None}
            found |= {str(row[1]) for row in extract.extract("python", source, keywords=keywords)}
    for page in (ROOT / "followup" / "templates" / "followup").glob("*questionnaire*.html"):
        found |= set(IN_PAGES.findall(page.read_text()))
    return found


def written(language: str) -> Catalog:
    with (FOLDER / language / "LC_MESSAGES" / "django.po").open("rb") as source:
        return pofile.read_po(source)


def words(catalog: Catalog) -> dict[str, str]:
    return {str(row.id): str(row.string) for row in catalog if row.id}


def test_enough_is_collected() -> None:
    texts = said()
    assert len(texts) > 50
    house = {question.words for question in questions.HOUSE.values()}
    house |= {question.hint for question in questions.HOUSE.values() if question.hint}
    numbers = {str(number) for number in range(11)}
    for question in questions.HOUSE.values():
        house |= {choice.words for choice in question.choices} - numbers
    assert house <= texts


@pytest.mark.parametrize("language", OTHERS)
def test_every_text_is_translated_and_none_is_left_over(language: str) -> None:
    catalog = written(language)
    assert set(words(catalog)) == said()
    assert not [row.id for row in catalog if row.fuzzy or not row.string]


@pytest.mark.parametrize("language", OTHERS)
def test_what_is_compiled_is_what_is_written(language: str) -> None:
    path = FOLDER / language / "LC_MESSAGES" / "django.mo"
    with path.open("rb") as compiled:
        assert words(mofile.read_mo(compiled)) == words(written(language))
    again = BytesIO()
    mofile.write_mo(again, written(language))
    again.seek(0)
    assert words(mofile.read_mo(again)) == words(written(language))


@pytest.mark.parametrize("language", OTHERS)
def test_the_service_speaks_it(language: str) -> None:
    assert language in dict(settings.LANGUAGES)
    with translation.override(TAGS[language]):
        for text, there in words(written(language)).items():
            assert translation.gettext(text) == there


def test_english_is_said_as_it_is_written() -> None:
    with translation.override(TAGS[FIRST]):
        assert {translation.gettext(text) for text in said()} == said()
