"""In which language a patient is asked."""

import pytest

from followup.rules.languages import SHIPPED, TAGS, offered, shipped


@pytest.mark.parametrize(
    ("tag", "language"),
    [("de", "de"), ("de-AT", "de"), ("de_CH", "de"), ("en-gb", "en"), ("fr", "en"), ("", "en")],
)
def test_a_tag_means_a_shipped_language(tag: str, language: str) -> None:
    assert shipped(tag) == language


@pytest.mark.parametrize(
    ("wanted", "there", "language"),
    [
        ("de", ["en", "de"], "de"),
        ("de", ["en"], "en"),
        ("en", ["de"], "de"),
        ("fr", ["de", "en"], "en"),
        ("de", [], "de"),
    ],
)
def test_a_site_asks_in_a_language_that_it_offers(
    wanted: str, there: list[str], language: str
) -> None:
    assert offered(wanted, there) == language


def test_every_language_has_a_tag() -> None:
    assert set(TAGS) == set(SHIPPED)
