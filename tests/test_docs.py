"""What README.md and DEVELOPERS.md promise is there."""

import re
from pathlib import Path

import pytest
from django.core.management import get_commands

from analytics.endpoints.catalogue import DEFINITIONS
from followup.rules.case_columns.catalogue import documentation
from registry.rules.roles import ROLES

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()
TARGETS = set(re.findall(r"^([a-z-]+):", (ROOT / "Makefile").read_text(), re.MULTILINE))


def test_the_readme_begins_with_the_job() -> None:
    first = README.split("\n\n")[1]
    assert first.startswith("Holdfast is the outcomes and follow-up registry")
    assert README.index(first) < README.index("make run")


def test_the_columns_of_an_import_are_those_that_it_takes() -> None:
    table = README.split("<!-- columns -->")[1].split("<!-- /columns -->")[0].strip()
    assert table.splitlines() == documentation()


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_commands_that_are_named_are_there(text: str) -> None:
    assert set(re.findall(r"make ([a-z-]+)", text)) & TARGETS
    named = set(re.findall(r"manage\.py ([a-z_]+)", text))
    assert named <= set(get_commands())


def test_every_make_target_is_explained() -> None:
    assert TARGETS - {"environment"} <= set(re.findall(r"make ([a-z-]+)", DEVELOPERS))


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_files_and_pictures_that_are_named_are_there(text: str) -> None:
    named = re.findall(r"\]\(([^)#]+)\)", text)
    named += re.findall(r"`((?:registry|followup|analytics|config|tests|fixtures)/[\w./]*)`", text)
    gone = [name for name in named if not (ROOT / name).exists()]
    assert len(named) > 5
    assert not gone


def test_every_role_and_every_definition_of_loss_is_explained() -> None:
    for role in ROLES:
        assert f"| {role.replace('_', ' ')} |" in README
    for definition in DEFINITIONS.values():
        if definition.endpoint == "loss_of_reduction":
            assert f"`{definition.id}`" in README
            assert f"| {definition.source} |" in README
