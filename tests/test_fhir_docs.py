"""The page about FHIR says what the code does, element by element."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from followup.exchange.fhir import search
from followup.exchange.fhir.kinds import KINDS
from registry.rules.fhir import loinc
from tests import many
from tests import scene as scenes
from tests.fhir_rows import surgeon_sees

ROOT = Path(__file__).parents[1]
PAGE = (ROOT / "followup/exchange/fhir/FHIR.md").read_text()
TABLE = PAGE.split("<!-- elements -->")[1].split("<!-- /elements -->")[0]
TOLD = re.findall(r"^\| (\w+) \| `(\w+)` \| \S", TABLE, re.MULTILINE)
WRITERS = "".join(
    file.read_text()
    for room in ("registry", "followup")
    for file in sorted((ROOT / room / "exchange/fhir").glob("*.py"))
)
HEAD = {"resourceType", "id", "meta"}


@pytest.fixture(scope="module")
def sent(django_db_setup: None, django_db_blocker: Any) -> Iterator[dict[str, set[str]]]:
    """Yield the elements of every type that a whole service sends."""
    for built in scenes.build(django_db_blocker):
        many.grow(built.things["north"], 1, 4)
        found: dict[str, set[str]] = {}
        for kind in KINDS.values():
            for source in kind.sources:
                for chunk in search.streamed(kind, source, surgeon_sees(), None, 100):
                    for one in chunk:
                        found.setdefault(kind.name, set()).update(one)
        yield found


@pytest.mark.django_db
@pytest.mark.parametrize("kind", KINDS)
def test_every_element_that_is_sent_is_told(sent: dict[str, set[str]], kind: str) -> None:
    told = {element for of, element in TOLD if of == kind}
    assert {name.lstrip("_") for name in sent[kind]} - HEAD <= told


def test_every_element_that_is_told_is_written_somewhere() -> None:
    assert {of for of, _ in TOLD} == set(KINDS)
    assert len(TOLD) == len(set(TOLD))
    spans = {"onsetDateTime": '"onset"', "onsetPeriod": '"onset"'}
    gone = [name for _, name in TOLD if spans.get(name, f'"{name}"') not in WRITERS]
    assert not gone


def test_the_extensions_that_are_told_are_those_that_are_sent() -> None:
    sent = set(re.findall(r'(?:extension|_said|written)\(\s*"([a-z-]+)"', WRITERS)) - {"onset"}
    told = set(
        re.findall(
            r"`([a-z]+-[a-z-]+|quantity|view|posture|weighted|calibration|relation|action)`", TABLE
        )
    )
    assert sent - told == set()


def test_the_loinc_notice_and_every_code_that_is_sent_are_told() -> None:
    assert "https://loinc.org/license" in PAGE
    for code in (loinc.LEFT_ABDUCTION_ACTIVE, loinc.EXTERNAL_ROTATION_ACTIVE, loinc.PAIN):
        assert f"`{code}`" in PAGE


def test_every_extension_and_type_that_is_taken_in_is_told() -> None:
    taking = PAGE.split("## Taking in")[1].split("## LOINC")[0]
    for kind in KINDS.values():
        assert (f"| {kind.name} `" in taking) is kind.taken_in
    for name in (
        "injury-facts",
        "procedure-facts",
        "construct-facts",
        "quantity",
        "different-from",
    ):
        assert f"`{name}`" in taking
