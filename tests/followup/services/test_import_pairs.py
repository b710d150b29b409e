"""What people decide about those who are alike is kept, and used at once."""

from typing import Any

import pytest

from followup.models.imports import DraftState, ImportDraft
from followup.services import import_pairs, import_runs
from registry.errors import IllegalTransition
from tests.builders import NOW
from tests.followup.case_files import case
from tests.followup.sent_files import connie, landed, sent_ours
from tests.followup.services.test_import_runs import twins

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture(autouse=True)
def own_folder(settings: Any, tmp_path: Any) -> None:
    settings.MEDIA_ROOT = tmp_path


def test_a_decision_is_kept_with_who_and_when_and_only_once() -> None:
    draft = sent_ours(*twins())
    pair = draft.pairs.get()
    for new in (1, 0):
        said = import_pairs.answer(draft, answers={pair.pk: "same"}, by=connie(), now=NOW)
        assert said == new
    pair.refresh_from_db()
    assert (pair.answer, pair.answered_by, pair.answered_at) == ("same", connie(), NOW)


def test_nonsense_and_pairs_of_other_files_are_passed_over() -> None:
    draft, other = sent_ours(*twins()), sent_ours(*twins())
    answers = {draft.pairs.get().pk: "perhaps", other.pairs.get().pk: "same"}
    assert import_pairs.answer(draft, answers=answers, by=connie(), now=NOW) == 0
    assert other.pairs.get().answer == ""


def test_a_checked_file_is_checked_again_and_an_imported_one_gone_on_with() -> None:
    draft = sent_ours(*twins(), case(3))
    import_pairs.use_answers(draft, by=connie())
    assert draft.state == DraftState.CHECKING
    draft.state = DraftState.CHECKED
    draft.save()
    landed(draft)
    draft.refresh_from_db()
    import_pairs.use_answers(draft, by=connie())
    assert draft.state == DraftState.LANDED
    import_pairs.answer(draft, answers={draft.pairs.get().pk: "same"}, by=connie(), now=NOW)
    import_pairs.use_answers(draft, by=connie())
    assert draft.state == DraftState.LANDING


def test_a_page_loaded_before_the_import_began_sends_nothing_back_to_be_checked() -> None:
    draft = sent_ours(*twins(), case(3))
    stale = ImportDraft.objects.get(pk=draft.pk)
    batch = import_runs.start(draft, by=connie(), now=NOW)
    with pytest.raises(IllegalTransition, match="being imported"):
        import_pairs.use_answers(stale, by=connie())
    draft.refresh_from_db()
    assert (draft.state, draft.batch_id) == (DraftState.LANDING, batch.pk)


def test_two_who_go_on_with_the_same_file_begin_it_once() -> None:
    draft = sent_ours(*twins(), case(3))
    landed(draft)
    draft.refresh_from_db()
    import_pairs.answer(draft, answers={draft.pairs.get().pk: "same"}, by=connie(), now=NOW)
    stale = ImportDraft.objects.get(pk=draft.pk)
    import_pairs.use_answers(draft, by=connie())
    with pytest.raises(IllegalTransition, match="by somebody else"):
        import_pairs.use_answers(stale, by=connie())
