"""What was sent is looked through, and what its columns, days and words mean is settled and remembered."""

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from followup.models.imports import (
    DraftState,
    ImportDraft,
    RememberedColumns,
    RememberedWord,
)
from followup.rules import case_translation, column_proposal, column_survey, mapping_files
from followup.rules.case_columns.catalogue import BY_NAME
from followup.rules.case_translation import CODED, ColumnUse, Translation
from followup.rules.column_survey import Held
from followup.rules.import_questions import DayQuestion, WordQuestion, days_asked, words_asked
from followup.services.uploads import open_upload
from registry.errors import BadInput, IllegalTransition
from registry.exchange import sheets
from registry.exchange.sheet_text import Written
from registry.exchange.sheets import AmbiguousText, Sheet
from registry.models.constructs import ConstructType
from registry.models.people import Person
from registry.models.sites import Site
from registry.rules import date_styles
from registry.rules.date_styles import DateStyle
from registry.selectors.people import surgeons_at
from registry.services import records

EVERY = 1000
WRITTEN = (
    "state",
    "fault",
    "encoding",
    "separator",
    "previews",
    "header",
    "notes",
    "counts_from",
    "survey",
    "mapping",
    "columns_settled",
    "days_settled",
    "words_settled",
    "rows",
    "rows_done",
)
# What may be called with the number of rows that were looked at.
Beat = Callable[[int], None]


def look_through(draft: ImportDraft, beat: Beat) -> None:
    """Read a file once from end to end: what it holds, and what its columns are proposed to mean.

    What was settled for the same names of columns at this site is taken up again. Raises BadInput for
    what is not a table of rows.
    """
    with open_upload(draft) as source:
        try:
            sheet = sheets.read(source, written_of(draft))
        except AmbiguousText as asked:
            draft.previews = [
                {"encoding": one.encoding, "name": one.name, "words": list(one.words)}
                for one in asked.previews
            ]
            draft.state = DraftState.SETTLING
            _write(draft, DraftState.READING)
            return
        survey = column_survey.survey_of(len(sheet.header))
        draft.rows = _count(sheet, survey, beat)
    if not draft.rows:
        raise BadInput("The file names its columns and holds no row below them.")
    _keep_found(draft, sheet, survey)
    _propose(draft, survey)
    draft.state = DraftState.SETTLING
    settle_what_asks_nothing(draft)
    _write(draft, DraftState.READING)


def _count(sheet: Sheet, survey: Sequence[Held], beat: Beat) -> int:
    rows = 0
    for row in sheet.rows:
        column_survey.note_row(survey, row.cells)
        rows += 1
        if rows % EVERY == 0:
            beat(rows)
    return rows


def _keep_found(draft: ImportDraft, sheet: Sheet, survey: Sequence[Held]) -> None:
    draft.header, draft.notes = list(sheet.header), list(sheet.notes)
    draft.counts_from = sheet.counts_from
    draft.survey = column_survey.to_plain(survey)
    draft.previews = []
    if sheet.written_as is not None:
        draft.encoding = sheet.written_as.encoding
        draft.separator = sheet.written_as.separator


def written_of(draft: ImportDraft) -> Written:
    """Return how a file was said or found to be written."""
    return Written(draft.encoding, draft.separator)


def translation_of(draft: ImportDraft) -> Translation:
    """Return what was settled about a file so far."""
    return mapping_files.from_plain(draft.mapping)


def survey_of(draft: ImportDraft) -> dict[str, Held]:
    """Return what a file's columns hold, by their names."""
    return dict(zip(draft.header, column_survey.from_plain(draft.survey), strict=True))


def codes_at(site: Site) -> dict[str, list[str]]:
    """Return the codes of the service that columns of a file may hold, by field."""
    types = list(ConstructType.objects.filter(is_active=True).values_list("code", flat=True))
    surgeons = list(surgeons_at(site).values_list("username", flat=True))
    return {"construct_type": types, "revision_construct_type": types, "surgeon": surgeons}


def settle_text(draft: ImportDraft, *, encoding: str, separator: str) -> None:
    """Say how a text file is written; it is read anew. Raises IllegalTransition where it has gone on."""
    was = draft.state
    draft.encoding, draft.separator = encoding, separator
    draft.columns_settled = draft.days_settled = draft.words_settled = False
    draft.mapping, draft.previews, draft.fault = {}, [], ""
    draft.state = DraftState.READING
    _write(draft, was)


def settle_columns(
    draft: ImportDraft,
    *,
    fields: Mapping[str, str],
    same_for_all: Mapping[str, str],
    by: Person,
    now: datetime,
) -> None:
    """Say which column is which field, and which are left out.

    Raises BadInput for what does not make a case, or a column of codes with too many different values.
    """
    before = {use.header: use for use in translation_of(draft).uses}
    uses = tuple(
        _kept_use(before.get(header), header, fields.get(header, "")) for header in draft.header
    )
    known = translation_of(draft)
    found = replace(known, uses=uses, same_for_all=dict(same_for_all))
    wrong = case_translation.faults(found) + _too_many(found, survey_of(draft))
    if wrong:
        raise BadInput(" ".join(wrong))
    draft.columns_settled, draft.days_settled, draft.words_settled = True, False, False
    _keep(draft, found, by, now)


def settle_days(
    draft: ImportDraft,
    *,
    styles: Mapping[str, DateStyle],
    decimals: Mapping[str, str],
    by: Person,
    now: datetime,
) -> None:
    """Say how the days, and the numbers with a comma, of each column are written.

    Raises BadInput by the column for whatever its values leave open and nobody has said.
    """
    found = translation_of(draft)
    wrong = {
        one.use.header: said
        for one in day_questions(draft)
        if (said := one.left_open(styles.get(one.use.header, one.use.dates)))
    }
    if wrong:
        raise BadInput(wrong)
    uses = tuple(
        replace(
            use,
            dates=styles.get(use.header, use.dates),
            decimal=decimals.get(use.header, use.decimal),
        )
        for use in found.uses
    )
    draft.days_settled = True
    _keep(draft, replace(found, uses=uses), by, now)


def settle_words(
    draft: ImportDraft,
    *,
    words: Mapping[str, Mapping[str, str]],
    by: Person,
    now: datetime,
) -> None:
    """Say what the site's own words mean; they are remembered for its next files.

    A word that was answered before may be answered otherwise; what is not given stays as it was.
    """
    found = translation_of(draft)
    asked = {(one.vocabulary, column_survey.word_key(one.word)): one for one in all_words(draft)}
    wrong = {
        f"{name}: {word}": "this is no code of its column"
        for name, given in words.items()
        for word, code in given.items()
        if (one := asked.get((name, word))) and not one.can_mean(code)
    }
    new = {key for key, one in asked.items() if not one.was_answered}
    if wrong or new - {(name, word) for name, given in words.items() for word in given}:
        raise BadInput(wrong or "Say of every word what it means.")
    together = {name: dict(given) for name, given in found.words.items()}
    for name, given in words.items():
        together.setdefault(name, {}).update(given)
    draft.words_settled = True
    with records.change(by=by, reason="words of an imported file"):
        for name, given in words.items():
            for word, code in given.items():
                # Who confirms what stands has not answered it anew.
                if (name, word) not in new and found.words.get(name, {}).get(word) == code:
                    continue
                RememberedWord.objects.update_or_create(
                    site=draft.site,
                    vocabulary=name,
                    word=word,
                    defaults={"code": code, "kept_at": now, "kept_by": by},
                )
        _keep(draft, replace(found, words=together), by, now)


def day_questions(draft: ImportDraft) -> list[DayQuestion]:
    """Return the columns of days that are not written year first, with what their values settle."""
    return days_asked(translation_of(draft), survey_of(draft), draft.counts_from)


def word_questions(draft: ImportDraft) -> list[WordQuestion]:
    """Return the words of coded columns that nobody has said the meaning of."""
    return [one for one in all_words(draft) if not one.was_answered]


def all_words(draft: ImportDraft) -> list[WordQuestion]:
    """Return the words of coded columns that are no codes, answered before or not."""
    names = dict(ConstructType.objects.values_list("code", "name"))
    return words_asked(translation_of(draft), survey_of(draft), codes_at(draft.site), names)


def settle_what_asks_nothing(draft: ImportDraft) -> None:
    """Note as settled what needs nobody's word, and have the file checked when that is all of it."""
    if not draft.columns_settled:
        return
    draft.days_settled = draft.days_settled or not day_questions(draft)
    if draft.days_settled:
        draft.words_settled = draft.words_settled or not word_questions(draft)
    if draft.days_settled and draft.words_settled:
        draft.state = DraftState.CHECKING
        draft.rows_done = 0


def header_key(header: Sequence[str]) -> str:
    """Return the same key for the same set of names of columns, in whatever order.

    The column of reasons that a file of rejected rows has makes no difference.
    """
    names = sorted(name.casefold() for name in header if name.casefold() != sheets.REASON)
    return hashlib.sha256(json.dumps(names).encode()).hexdigest()


def remembered(site: Site, header: Sequence[str]) -> Translation | None:
    """Return what was settled at a site for the same names of columns, with the site's words."""
    row = RememberedColumns.objects.filter(site=site, header_key=header_key(header)).first()
    if row is None:
        return None
    kept = mapping_files.from_plain(row.mapping)
    now_called = {name.casefold(): name for name in header}
    uses = tuple(
        replace(use, header=now_called[use.header.casefold()])
        for use in kept.uses
        if use.header.casefold() in now_called
    )
    return replace(kept, uses=uses, words=words_of(site))


def words_of(site: Site) -> dict[str, dict[str, str]]:
    """Return what a site's own words mean, by vocabulary."""
    found: dict[str, dict[str, str]] = {}
    for name, word, code in RememberedWord.objects.filter(site=site).values_list(
        "vocabulary", "word", "code"
    ):
        found.setdefault(name, {})[word] = code
    return found


def _propose(draft: ImportDraft, survey: Sequence[Held]) -> None:
    """Take up what is remembered, or propose; our own columns are settled as they stand."""
    known = remembered(draft.site, draft.header)
    if known is not None:
        misfits = _misfits(draft, known, survey)
        draft.columns_settled, draft.days_settled = True, not misfits
        uses = tuple(replace(use, dates=misfits.get(use.header, use.dates)) for use in known.uses)
        draft.mapping = mapping_files.to_plain(replace(known, uses=uses))
        return
    if is_ours(draft.header):
        found = case_translation.own(draft.header)
        draft.columns_settled = not case_translation.faults(found)
    else:
        proposals = column_proposal.propose(draft.header, survey, codes_at(draft.site))
        found = Translation(tuple(ColumnUse(one.header, one.column) for one in proposals))
    draft.mapping = mapping_files.to_plain(replace(found, words=words_of(draft.site)))


def _misfits(
    draft: ImportDraft, known: Translation, survey: Sequence[Held]
) -> dict[str, DateStyle]:
    """Return what this file's values settle of each column that was remembered to be written otherwise."""
    held = dict(zip(draft.header, survey, strict=True))
    asked = days_asked(known, held, draft.counts_from)
    return {
        one.use.header: replace(one.settled.style, last_year=one.use.dates.last_year)
        for one in asked
        if one.settled is not None
        and not date_styles.fits(one.use.dates, held[one.use.header].days, draft.counts_from)
    }


def is_ours(header: Sequence[str]) -> bool:
    """Say whether every column has a name of ours."""
    names = [name.casefold() for name in header]
    return all(name in BY_NAME or name == sheets.REASON for name in names)


def _kept_use(before: ColumnUse | None, header: str, field: str) -> ColumnUse:
    if before is not None and before.column == field:
        return before
    return ColumnUse(header, field)


def _too_many(found: Translation, survey: Mapping[str, Held]) -> list[str]:
    return [
        f"'{use.header}' has more than {column_survey.MOST_WORDS} different values; it is no column "
        f"of codes, as {use.column} is."
        for use in found.used()
        if use.column in BY_NAME and BY_NAME[use.column].kind in CODED and survey[use.header].many
    ]


def _keep(draft: ImportDraft, found: Translation, by: Person, now: datetime) -> None:
    was = draft.state
    draft.mapping = mapping_files.to_plain(found)
    draft.state, draft.fault = DraftState.SETTLING, ""
    settle_what_asks_nothing(draft)
    with records.change(by=by, reason="columns of an imported file"):
        if draft.days_settled:
            _remember(draft, found, by, now)
        _write(draft, was)


def _write(draft: ImportDraft, was: str) -> None:
    """Write what was found or settled of a file, unless it has gone on since it was loaded.

    Raises IllegalTransition where somebody began to import it, settled it, or works on it meanwhile.
    """
    standing = ImportDraft.objects.filter(
        pk=draft.pk, state=was, holder=draft.holder, batch__isnull=True
    )
    if not standing.update(**{name: getattr(draft, name) for name in WRITTEN}):
        raise gone_on(draft, "settled as your page says")


def gone_on(draft: ImportDraft, wanted: str) -> IllegalTransition:
    """Return the refusal for a file that is no longer as it was when it was loaded."""
    now = ImportDraft.objects.filter(pk=draft.pk).first()
    present = now.get_state_display().lower() if now else "done with"
    return IllegalTransition("The file", present=present, wanted=wanted)


def _remember(draft: ImportDraft, found: Translation, by: Person, now: datetime) -> None:
    kept: dict[str, Any] = mapping_files.to_plain(replace(found, words={}))
    RememberedColumns.objects.update_or_create(
        site=draft.site,
        header_key=header_key(draft.header),
        defaults={"mapping": kept, "kept_at": now, "kept_by": by},
    )
