"""Files of cases that were begun and that nobody ends are found."""

from datetime import timedelta
from typing import Any

import pytest

from followup.models import ImportDraft
from registry.models import ImportBatch
from tests.damage import LOOKED_AT, broken

pytestmark = [pytest.mark.django_db, pytest.mark.either_engine]

NO_FILE = "it was begun, and there is no file with which to end it"


def draft_of(damaging: dict[str, Any], **values: Any) -> ImportDraft:
    batch = ImportBatch.objects.get(pk=damaging["batch_id"])
    told = {"rows": batch.rows_read, "rows_done": batch.rows_read, "batch": batch, **values}
    return ImportDraft.objects.create(
        site_id=damaging["site_id"],
        token="0" * 32,
        file_name="cases.csv",
        brought_at=LOOKED_AT,
        brought_by=batch.started_by,
        **told,
    )


@pytest.fixture(autouse=True)
def without_other_drafts(damaging: dict[str, Any]) -> None:
    ImportDraft.objects.all().delete()


def test_a_file_that_landed_whole_breaks_no_rule(damaging: dict[str, Any]) -> None:
    draft_of(damaging, state="landed")
    assert broken() == {}


@pytest.mark.parametrize(
    ("values", "what"),
    [
        ({"state": "landing"}, "it is being imported, and its account is not open"),
        (
            {"state": "landed", "holder": "x", "held_until": LOOKED_AT - timedelta(days=2)},
            "it has been held for more than a day by a worker that is silent",
        ),
        ({"state": "landed", "rows_done": 9000}, "more of its rows are done than it has"),
    ],
)
def test_a_file_that_stands_still_is_found(
    damaging: dict[str, Any], values: dict[str, Any], what: str
) -> None:
    draft = draft_of(damaging, **values)
    assert broken() == {"import_drafts": [f"followup_importdraft {draft.pk}: {what}"]}


def test_an_account_that_was_never_closed_is_found(damaging: dict[str, Any]) -> None:
    ImportBatch.objects.filter(pk=damaging["batch_id"]).update(state="running")
    assert broken() == {
        "import_drafts": [
            f"registry_importbatch {damaging['batch_id']}: {NO_FILE}",
        ]
    }


def test_a_file_whose_rows_are_not_all_in_the_account_is_found(damaging: dict[str, Any]) -> None:
    draft = draft_of(damaging, state="landed", rows=9000)
    assert broken() == {
        "import_parts": [
            f"followup_importdraft {draft.pk}: it is imported, and the ledger has none of its rows",
            f"followup_importdraft {draft.pk}: its account was opened for other rows than it has",
        ]
    }
