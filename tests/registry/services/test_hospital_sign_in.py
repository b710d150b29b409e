"""Tying people to the subject by which the hospital's provider knows them."""

from typing import Any

import pytest

from registry.errors import BadInput
from registry.models import SignInEvent
from registry.services.hospital_sign_in import part, subject_of, tie, untied
from tests import builders, trailed
from tests.builders import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def on(settings: Any) -> None:
    settings.SSO_ISSUER = "https://provider.example"


def test_a_subject_is_one_persons_and_a_person_has_one() -> None:
    selma, connie, ada = (builders.person(name) for name in ("selma", "connie", "ada"))
    tie(person=selma, subject=" s-1 ", by=ada, now=NOW)
    assert subject_of(selma) == "s-1"
    with pytest.raises(BadInput, match="Somebody else"):
        tie(person=connie, subject="s-1", by=ada, now=NOW)
    with pytest.raises(BadInput, match="tied already"):
        tie(person=selma, subject="s-2", by=ada, now=NOW)
    part(person=selma, by=ada, now=NOW)
    tie(person=connie, subject="s-1", by=ada, now=NOW)
    assert trailed.holds()
    kinds = SignInEvent.objects.order_by("pk").values_list("kind", flat=True)
    assert list(kinds) == ["tied", "untied", "tied"]


@pytest.mark.parametrize("subject", ["", "   ", "x" * 192])
def test_what_is_no_subject_is_refused(subject: str) -> None:
    selma = builders.person("selma")
    with pytest.raises(BadInput, match="subject"):
        tie(person=selma, subject=subject, by=selma, now=NOW)


def test_under_another_issuer_nobody_is_tied(settings: Any) -> None:
    selma, ada = builders.person("selma"), builders.person("ada")
    tie(person=selma, subject="s-1", by=ada, now=NOW)
    settings.SSO_PROVIDER_ID = "hospital-other"
    assert subject_of(selma) == ""
    with pytest.raises(BadInput, match="not tied"):
        part(person=selma, by=ada, now=NOW)


def test_without_a_provider_nobody_is_tied(settings: Any) -> None:
    settings.SSO_ISSUER = ""
    selma = builders.person("selma")
    with pytest.raises(BadInput, match="No provider"):
        tie(person=selma, subject="s-1", by=selma, now=NOW)


def test_a_name_finds_those_alone_who_are_not_tied() -> None:
    selma, ada = builders.person("selma"), builders.person("ada")
    assert untied("SELMA") == selma
    tie(person=selma, subject="s-1", by=ada, now=NOW)
    assert untied("selma") is None
    assert untied("nobody") is None
