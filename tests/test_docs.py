"""What README.md and DEVELOPERS.md promise is there."""

import re
from pathlib import Path

import pytest
from django.core.management import get_commands

from analytics.endpoints.catalogue import DEFINITIONS
from followup.rules.case_columns.catalogue import documentation
from registry.rules.roles import ROLES, matrix

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()
OPERATING = (ROOT / "config" / "OPERATING.md").read_text()
TARGETS = set(re.findall(r"^([a-z-]+):", (ROOT / "Makefile").read_text(), re.MULTILINE))


def test_the_readme_begins_with_the_job() -> None:
    first = README.split("\n\n")[1]
    assert first.startswith("Holdfast is the outcomes and follow-up registry")
    assert README.index(first) < README.index("make run")


def test_the_columns_of_an_import_are_those_that_it_takes() -> None:
    table = README.split("<!-- columns -->")[1].split("<!-- /columns -->")[0].strip()
    assert table.splitlines() == documentation()


def test_the_rights_are_those_of_the_one_table() -> None:
    table = DEVELOPERS.split("<!-- rights -->")[1].split("<!-- /rights -->")[0].strip()
    assert table.splitlines() == matrix()


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_commands_that_are_named_are_there(text: str) -> None:
    assert set(re.findall(r"make ([a-z-]+)", text)) & TARGETS
    named = set(re.findall(r"manage\.py ([a-z0-9_]+)", text))
    assert named <= set(get_commands())


def test_what_an_operator_is_told_to_run_and_set_is_there() -> None:
    named = set(re.findall(r"manage\.py ([a-z0-9_]+)", OPERATING))
    assert {"keep_copy", "put_back", "verify_records"} <= named <= set(get_commands())
    settings = (ROOT / "config" / "settings.py").read_text()
    told = {
        "HOLDFAST_COPIES_FOR",
        "HOLDFAST_COPIES_DIR",
        "HOLDFAST_COPIES_KEPT",
        "HOLDFAST_PG_TOOLS",
    }
    assert all(name in OPERATING and f'"{name}"' in settings for name in told)


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
