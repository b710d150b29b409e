"""By command a strange file is taken in by a mapping, by what is remembered, and gone on with."""

import io
import json
from typing import Any

import pytest
from django.core.files.base import ContentFile

from followup.models.imports import ImportDraft
from followup.rules.case_columns.catalogue import BY_NAME
from followup.services import import_by_command, import_checks
from followup.services.import_by_command import Given, TakenIn
from registry.errors import BadInput
from registry.models import Patient
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup.case_files import case, file_of
from tests.followup.sent_files import THEIRS, connie, list_of, sent, settled, theirs
from tests.followup.services.test_import_runs import Killed, killed_at

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture(autouse=True)
def small_parts(monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Any) -> None:
    monkeypatch.setattr(import_checks, "CHUNK", 2)
    settings.MEDIA_ROOT = tmp_path


def known(content: bytes, mapping: Any = None, **how: str) -> Given:
    return import_by_command.given(io.BytesIO(content), builders.site(), mapping=mapping, **how)


def brought(content: bytes, mapping: Any = None) -> ImportDraft:
    return import_by_command.brought(
        ContentFile(content),
        "cases.csv",
        builders.site(),
        known(content, mapping),
        by=connie(),
        now=NOW,
    )


def taken(draft: ImportDraft, *, dry_run: bool = False) -> TakenIn:
    return import_by_command.taken_in(draft, dry_run=dry_run, by=connie(), now=NOW, today=TODAY)


def proposed(content: bytes) -> dict[str, Any]:
    text = import_by_command.proposal(io.BytesIO(content), builders.site(), known(content))
    found: dict[str, Any] = json.loads(text)
    return found


def complete(content: bytes) -> dict[str, Any]:
    mapping = proposed(content)
    for header, use in mapping["columns"].items():
        if "atum" in header:
            use["dates"] = "day_first"
    mapping["words"] = {
        "side": {"li": "left"},
        "injury_kind": {"LCF": "lateral_clavicle"},
        "construct_type": {"Platte": "LP"},
    }
    return mapping


def test_a_proposal_is_completed_and_given_as_a_mapping() -> None:
    content = list_of(theirs(1), theirs(2))
    done = taken(brought(content, complete(content)))
    assert done.said == (
        "2 rows read: 2 added, 0 known already, 0 rejected, 0 left waiting for a decision."
    )
    assert done.rejected is None
    assert Patient.objects.count() == 2


def test_what_was_settled_in_the_browser_holds_for_the_command() -> None:
    settled(sent(list_of(theirs(1))), construct_type="LP")
    found = known(list_of(theirs(2)))
    assert found.translation is not None
    assert taken(brought(list_of(theirs(2)))).said.startswith("1 rows read: 1 added")


def test_what_was_settled_holds_where_most_columns_have_names_of_ours() -> None:
    # Numbers of screws and the like, which this department has not filled yet.
    first = list(BY_NAME).index("plate_holes")
    ours = dict.fromkeys(list(BY_NAME)[first : first + len(THEIRS) + 2], "")
    settled(sent(list_of({**theirs(1), **ours})), construct_type="LP")
    found = known(list_of({**theirs(2), **ours}))
    assert found.translation is not None
    done = taken(brought(list_of({**theirs(2), **ours})))
    assert done.said.startswith("1 rows read: 1 added")


def test_what_nobody_settled_is_refused_with_what_to_do() -> None:
    with pytest.raises(BadInput, match=r"Which column is which is not settled.*--propose"):
        taken(brought(list_of(theirs(1))))
    assert not ImportDraft.objects.exists()


def test_our_own_columns_need_no_mapping() -> None:
    content = file_of(case(1), case(2, injury_date="2025-02-30")).getvalue()
    assert known(content).translation is None
    dry = taken(brought(content), dry_run=True)
    assert dry.said == (
        "2 rows read: 1 would be added, 0 known already, 1 rejected, 0 wait for a decision. "
        "Nothing was written."
    )
    done = taken(brought(content))
    assert done.said.startswith("2 rows read: 1 added, 0 known already, 1 rejected")
    assert done.rejected is not None
    assert "is not a possible date" in "".join(done.rejected)


def test_a_killed_import_is_gone_on_with_by_the_file_itself() -> None:
    content = file_of(*(case(n) for n in range(1, 8))).getvalue()
    draft = brought(content)
    with killed_at("000004"), pytest.raises(Killed):
        taken(draft)
    assert Patient.objects.count() == 2
    again = import_by_command.stopped(io.BytesIO(content), "cases.csv", builders.site())
    assert taken(again).said.startswith("7 rows read: 7 added")
    assert Patient.objects.count() == 7


def test_there_is_nothing_to_go_on_with_for_another_file_or_site() -> None:
    for site in ("north", "south"):
        with pytest.raises(BadInput, match=r"There is no import of cases\.csv"):
            import_by_command.stopped(io.BytesIO(b"x"), "cases.csv", builders.site(site))


def test_a_mapping_that_makes_no_case_is_refused_and_the_file_not_kept() -> None:
    content = list_of(theirs(1))
    mapping = complete(content)
    mapping["columns"]["Seite"] = "left out"
    with pytest.raises(BadInput, match="No column gives injured side, as a word"):
        brought(content, mapping)
    assert not ImportDraft.objects.exists()
