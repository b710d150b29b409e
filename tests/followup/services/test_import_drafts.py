"""What a department's own list means is proposed, settled by a person, and remembered at its site."""

from datetime import timedelta
from typing import Any

import pytest

from followup.models.imports import (
    DraftState,
    ImportDraft,
    RememberedColumns,
    RememberedWord,
)
from followup.services import import_drafts, import_runs
from registry.errors import BadInput, IllegalTransition
from registry.models import AuditEntry
from registry.models.constructs import ConstructType
from registry.rules.date_styles import DateStyle
from tests import builders
from tests.builders import NOW
from tests.followup.case_files import HEADER, case, file_of
from tests.followup.sent_files import connie, list_of, sent, sent_ours, settled, theirs

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture(autouse=True)
def own_folder(settings: Any, tmp_path: Any) -> None:
    settings.MEDIA_ROOT = tmp_path


def uses(draft: Any) -> dict[str, str]:
    return {use.header: use.column for use in import_drafts.translation_of(draft).uses}


def test_a_strange_list_waits_for_what_its_columns_mean() -> None:
    draft = sent(list_of(theirs(1)))
    assert (draft.state, draft.columns_settled) == (DraftState.SETTLING, False)
    assert uses(draft)["OP-Datum"] == "procedure_date"
    assert uses(draft)["Bemerkung"] == ""
    assert draft.rows == 1


def test_our_own_columns_are_checked_at_once_in_any_order() -> None:
    assert sent(file_of(case(1), header=HEADER[::-1]).getvalue()).state == DraftState.CHECKED


def test_the_columns_and_words_of_a_site_are_remembered() -> None:
    first = settled(sent(list_of(theirs(1))), construct_type="HP")
    assert (first.rows_good, first.state) == (1, DraftState.CHECKED)
    backwards = dict(reversed(theirs(2).items()))
    again = sent(list_of(backwards, separator="\t", encoding="utf-16"))
    assert (again.state, again.rows_good) == (DraftState.CHECKED, 1)
    written = AuditEntry.objects.filter(table="followup_rememberedcolumns")
    assert {entry.person_id for entry in written} == {connie().pk}


def test_a_new_word_is_asked_about_though_the_columns_are_remembered() -> None:
    settled(sent(list_of(theirs(1))), construct_type="HP")
    again = sent(list_of(theirs(2, Implantat="Hakenplatte")))
    assert again.state == DraftState.SETTLING
    (question,) = import_drafts.word_questions(again)
    assert (question.word, question.vocabulary, question.count) == (
        "Hakenplatte",
        "construct_type",
        1,
    )


def test_another_site_remembers_nothing_of_it() -> None:
    settled(sent(list_of(theirs(1))), construct_type="HP")
    assert import_drafts.remembered(builders.site("south"), list(theirs())) is None
    assert import_drafts.words_of(builders.site("south")) == {}


def test_names_are_the_same_in_whatever_order_and_letters() -> None:
    key = import_drafts.header_key(["OP-Datum", "Seite"])
    assert key == import_drafts.header_key(["seite", "op-datum", "Reason"])
    assert key != import_drafts.header_key(["seite"])


def test_what_makes_no_case_is_refused_in_words() -> None:
    draft = sent(list_of(theirs(1)))
    fields = uses(draft) | {"Seite": "", "Bemerkung": "family_name"}
    with pytest.raises(BadInput) as refused:
        import_drafts.settle_columns(draft, fields=fields, same_for_all={}, by=connie(), now=NOW)
    assert "family_name is given by two columns, 'Name' and 'Bemerkung'" in str(refused.value)
    assert "No column gives injured side, as a word" in str(refused.value)
    assert not RememberedColumns.objects.exists()


def test_a_column_of_endlessly_many_words_is_no_column_of_codes() -> None:
    draft = sent(list_of(*(theirs(n, Bemerkung=f"word {n}") for n in range(1, 160))))
    fields = uses(draft) | {"Bemerkung": "smoking"}
    with pytest.raises(BadInput, match="more than 150 different values"):
        import_drafts.settle_columns(draft, fields=fields, same_for_all={}, by=connie(), now=NOW)


def test_a_value_may_hold_for_every_row() -> None:
    rows = [{name: cell for name, cell in theirs(1).items() if name != "Diagnose"}]
    draft = sent(list_of(*rows))
    import_drafts.settle_columns(
        draft,
        fields=uses(draft),
        same_for_all={"injury_kind": "ac_joint"},
        by=connie(),
        now=NOW,
    )
    assert import_drafts.translation_of(draft).same_for_all == {"injury_kind": "ac_joint"}


def test_what_the_days_leave_open_has_to_be_said() -> None:
    draft = sent(list_of(theirs(1)))
    import_drafts.settle_columns(draft, fields=uses(draft), same_for_all={}, by=connie(), now=NOW)
    assert draft.state == DraftState.SETTLING
    with pytest.raises(BadInput) as refused:
        import_drafts.settle_days(draft, styles={}, decimals={}, by=connie(), now=NOW)
    assert refused.value.faults["OP-Datum"] == "Say which of day and month comes first."
    assert not draft.days_settled


def test_what_the_days_settle_themselves_is_confirmed() -> None:
    rows = theirs(1, **{"OP-Datum": "25.02.2025"})
    draft = sent(list_of(rows))
    import_drafts.settle_columns(draft, fields=uses(draft), same_for_all={}, by=connie(), now=NOW)
    asked = {one.use.header: one.settled for one in import_drafts.day_questions(draft)}
    operated = asked["OP-Datum"]
    assert operated is not None
    assert operated.style == DateStyle("day_first")
    assert operated.why == "25.02.2025 can only be day first."


def test_a_word_can_mean_nothing_or_refuse_its_rows_but_no_other_code() -> None:
    rows = (theirs(1), theirs(2, Seite="beidseits"))
    draft = sent(list_of(*rows))
    settled_columns(draft)
    words = {one.word: one for one in import_drafts.word_questions(draft)}
    assert (words["beidseits"].proposal, words["beidseits"].may_be_empty) == (None, False)
    said = {
        "side": {"li": "left", "beidseits": "both"},
        "injury_kind": {"lcf": "lateral_clavicle"},
        "construct_type": {"platte": "LP"},
    }
    with pytest.raises(BadInput, match="side: beidseits: this is no code"):
        import_drafts.settle_words(draft, words=said, by=connie(), now=NOW)
    said["side"]["beidseits"] = "!"
    import_drafts.settle_words(draft, words=said, by=connie(), now=NOW)
    assert draft.state == DraftState.CHECKING
    assert RememberedWord.objects.filter(site=draft.site).count() == 4


def test_a_word_longer_than_what_is_kept_of_it_is_asked_remembered_and_looked_up() -> None:
    plate = (
        "Hakenplatte f\xfcr die gro\xdfe laterale Fraktur, mit Schlo\xdf, Gr\xf6\xdfe "
        + "\xdf" * 20
    )
    first = settled(sent(list_of(theirs(1, Implantat=f"{plate} lang"))), construct_type="HP")
    assert (first.state, first.rows_good) == (DraftState.CHECKED, 1)
    assert {len(one.word) for one in RememberedWord.objects.filter(code="HP")} == {60}
    again = sent(list_of(theirs(2, Implantat=f"{plate.upper()}  lang")))
    assert (again.state, again.rows_good) == (DraftState.CHECKED, 1)
    other = sent(list_of(theirs(3, Implantat=f"{plate} kurz")))
    assert len(import_drafts.word_questions(other)) == 1


def test_what_a_word_was_said_to_mean_can_be_put_right() -> None:
    settled(sent(list_of(theirs(1))), construct_type="HP", side="right")
    again = sent(list_of(theirs(2)))
    assert again.state == DraftState.CHECKED
    said = {one.word: one.proposal for one in import_drafts.all_words(again)}
    assert said == {"li": "right", "LCF": "lateral_clavicle", "Platte": "HP"}
    later = NOW + timedelta(days=1)
    rita = builders.person("rita", north="coordinator")
    words = {"side": {"li": "left"}, "construct_type": {"platte": "HP"}}
    import_drafts.settle_words(again, words=words, by=rita, now=later)
    assert again.state == DraftState.CHECKING
    assert import_drafts.translation_of(again).words["side"] == {"li": "left"}
    kept = {one.word: (one.code, one.kept_by, one.kept_at) for one in RememberedWord.objects.all()}
    assert kept["li"] == ("left", rita, later)
    assert kept["platte"] == ("HP", connie(), NOW)
    assert import_drafts.translation_of(sent(list_of(theirs(3)))).words["side"] == {"li": "left"}


def test_a_word_for_a_construct_type_that_was_switched_off_is_asked_about_again() -> None:
    settled(sent(list_of(theirs(1))), construct_type="HP")
    ConstructType.objects.filter(code="HP").update(is_active=False)
    again = sent(list_of(theirs(2)))
    assert again.state == DraftState.SETTLING
    assert [one.word for one in import_drafts.word_questions(again)] == ["Platte"]


def settled_columns(draft: Any) -> None:
    import_drafts.settle_columns(draft, fields=uses(draft), same_for_all={}, by=connie(), now=NOW)
    styles = {one.use.header: DateStyle("day_first") for one in import_drafts.day_questions(draft)}
    import_drafts.settle_days(draft, styles=styles, decimals={}, by=connie(), now=NOW)


def test_letters_that_can_be_read_in_several_ways_are_asked_about() -> None:
    row = theirs(1, Name="M\u00fcller")
    draft = sent(list_of(row, encoding="mac_roman"))
    assert (draft.state, draft.header) == (DraftState.SETTLING, [])
    shown = {one["encoding"]: one["words"] for one in draft.previews}
    assert shown["mac_roman"] == ["M\u00fcller"]
    import_drafts.settle_text(draft, encoding="mac_roman", separator="")
    import_drafts.look_through(draft, lambda rows: None)
    assert import_drafts.survey_of(draft)["Name"].examples == ("M\u00fcller",)


def test_a_file_of_ours_that_lacks_a_column_waits_for_a_person() -> None:
    header = tuple(name for name in HEADER if name != "side")
    row = {name: cell for name, cell in case(1).items() if name != "side"}
    draft = sent(file_of(row, header=header).getvalue())
    assert (draft.state, draft.columns_settled) == (DraftState.SETTLING, False)


def test_mistyped_codes_of_our_own_file_are_asked_about() -> None:
    draft = sent_ours(case(1, side="up"))
    assert [one.word for one in import_drafts.word_questions(draft)] == ["up"]


def test_what_was_loaded_before_the_import_began_settles_nothing() -> None:
    draft = settled(sent(list_of(theirs(1))), construct_type="HP")
    stale = [ImportDraft.objects.get(pk=draft.pk) for _ in range(3)]
    batch = import_runs.start(draft, by=connie(), now=NOW)
    before = RememberedColumns.objects.get().mapping
    with pytest.raises(IllegalTransition, match="being imported"):
        import_drafts.settle_columns(
            stale[0], fields=uses(draft), same_for_all={}, by=connie(), now=NOW
        )
    with pytest.raises(IllegalTransition, match="being imported"):
        import_drafts.settle_words(stale[1], words={"side": {"re": "right"}}, by=connie(), now=NOW)
    with pytest.raises(IllegalTransition, match="being imported"):
        import_drafts.settle_text(stale[2], encoding="utf-8", separator="")
    draft.refresh_from_db()
    assert (draft.state, draft.batch_id) == (DraftState.LANDING, batch.pk)
    assert RememberedColumns.objects.get().mapping == before
    assert not RememberedWord.objects.filter(word="re").exists()


def test_remembered_days_that_the_new_values_contradict_are_asked_about_again() -> None:
    settled(sent(list_of(theirs(1))), construct_type="HP")
    again = sent(list_of(theirs(2, **{"OP-Datum": "02.26.2025"})))
    assert (again.state, again.columns_settled) == (DraftState.SETTLING, True)
    assert not again.days_settled
    asked = {one.use.header: one.use.dates.order for one in import_drafts.day_questions(again)}
    assert (asked["OP-Datum"], asked["Unfalldatum"]) == ("month_first", "day_first")


def test_days_that_are_the_same_in_either_order_are_remembered_in_none() -> None:
    alike = {"OP-Datum": "03.03.2025", "Unfalldatum": "02.02.2025"}
    settled(sent(list_of(theirs(1, **alike))), construct_type="HP")
    again = sent(list_of(theirs(2, **{"OP-Datum": "03.04.2025", "Unfalldatum": "02.03.2025"})))
    assert (again.state, again.days_settled) == (DraftState.SETTLING, False)
    asked = {one.use.header: one.settled for one in import_drafts.day_questions(again)}
    assert {name for name, one in asked.items() if one and one.asks_order} >= {*alike}


def test_years_that_stand_last_are_not_read_as_standing_first() -> None:
    draft = sent(list_of(theirs(1)))
    import_drafts.settle_columns(draft, fields=uses(draft), same_for_all={}, by=connie(), now=NOW)
    styles = {
        one.use.header: DateStyle("year_first", 2026) for one in import_drafts.day_questions(draft)
    }
    with pytest.raises(BadInput) as refused:
        import_drafts.settle_days(draft, styles=styles, decimals={}, by=connie(), now=NOW)
    assert "whose year stands last" in refused.value.faults["OP-Datum"]
