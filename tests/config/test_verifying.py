"""The rules about the records, looked through at one moment and without writing."""

import json
import os
import subprocess
import sys
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import DatabaseError, connection

from config import verifying
from config.background import concerns, lines
from config.tasks.records import verify
from registry.errors import BadInput
from registry.models import JobRun
from registry.services.invariants import Breach, Invariant, Looking
from tests import builders
from tests.damage import LOOKED_AT, sql

ROOT = Path(__file__).resolve().parents[2]


def test_every_rule_has_a_name_of_its_own_and_a_sentence() -> None:
    names = [one.name for one in verifying.INVARIANTS]
    assert len(set(names)) == len(names) >= 35
    assert all(one.sentence.endswith(".") and " " in one.sentence for one in verifying.INVARIANTS)


@pytest.mark.django_db
def test_what_is_found_is_told_up_to_a_bound_and_counted_beyond() -> None:
    many = Invariant(
        "many", "There are none.", lambda _: (Breach(str(n), "one") for n in range(50))
    )
    (found,) = verifying.look_through(Looking(LOOKED_AT), [many])
    assert (found.number, len(found.first), found.holds) == (50, verifying.TOLD, False)
    counts = verifying.counted([found])
    assert counts == {"rules that hold": 0, "breaches of many": 50}
    assert verifying.worries(counts) == "many: run verify_records, which names the rows"
    assert verifying.worries({"rules that hold": 37}) == ""


@pytest.mark.django_db
def test_an_unknown_rule_is_refused_with_those_that_there_are() -> None:
    with pytest.raises(BadInput, match=r"There is no rule nothing; there are trail_chain, "):
        verifying.chosen(["nothing"])
    with pytest.raises(CommandError, match="There is no rule nothing"):
        call_command("verify_records", "--rule", "nothing")


@pytest.mark.django_db(transaction=True)
def test_nothing_can_be_written_while_it_looks_and_all_can_afterwards() -> None:
    def writes(looking: Looking) -> Any:
        builders.site("north")
        yield from ()

    with pytest.raises(DatabaseError, match=r"read-only|readonly"):
        verifying.look_through(Looking(LOOKED_AT), [Invariant("writes", "It writes.", writes)])
    assert builders.site("north").pk
    assert not connection.in_atomic_block


@pytest.mark.django_db
def test_the_command_ends_with_1_and_says_which_row_breaks_which_rule() -> None:
    builders.load_defaults()
    operation = builders.procedure()
    said = StringIO()
    call_command("verify_records", stdout=said)
    assert f"All {len(verifying.INVARIANTS)} rules hold." in said.getvalue()
    review = operation.reviews.earliest("pk")
    sql("UPDATE followup_review SET state = 'booked' WHERE id = %s", review.pk)
    said = StringIO()
    with pytest.raises(CommandError, match=r"1 of \d+ rules are broken"):
        call_command("verify_records", stdout=said)
    assert f"followup_review {review.pk}: it is booked and has no slot" in said.getvalue()
    said = StringIO()
    with pytest.raises(CommandError):
        call_command("verify_records", "--json", "--rule", "review_states", stdout=said)
    told = json.loads(said.getvalue())
    assert told["holds"] is False
    (rule,) = told["rules"]
    assert (rule["name"], rule["breaches"]) == ("review_states", 1)
    assert rule["first"][0]["where"] == f"followup_review {review.pk}"


@pytest.mark.django_db
def test_the_nightly_look_warns_on_the_page_of_the_background() -> None:
    builders.load_defaults()
    operation = builders.procedure()
    sql("UPDATE followup_review SET state = 'booked' WHERE id = %s", operation.reviews.first().pk)
    assert verify()["outcome"] == "good"
    run = JobRun.objects.get(job="verify_records")
    assert run.counts == {
        "rules that hold": len(verifying.INVARIANTS) - 1,
        "breaches of review_states": 1,
    }
    said = list(concerns(lines(run.started_at), "ok", 0, run.started_at))
    assert any("Look through the records: these rules are broken: review_states" in s for s in said)


def test_the_list_of_rules_asks_no_database(tmp_path: Path) -> None:
    given = {"HOLDFAST_DATA_DIR": str(tmp_path), "HOLDFAST_DATABASE": ""}
    done = subprocess.run(
        [sys.executable, "manage.py", "verify_records", "--list"],
        cwd=ROOT,
        env={**os.environ, **given, "DJANGO_SETTINGS_MODULE": "config.settings"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert len(done.stdout.splitlines()) == len(verifying.INVARIANTS)
    assert "trail_chain: The hash chain of the trail holds from end to end." in done.stdout
