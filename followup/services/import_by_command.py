"""A file of cases by command: what is known of its columns, and taking it in part by part."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any, BinaryIO

from django.core.files.base import File

from followup.models.imports import DraftState, ImportDraft
from followup.rules import case_translation, column_proposal, column_survey, mapping_files
from followup.rules.case_translation import ColumnUse, Translation
from followup.services import (
    import_drafts,
    import_rejects,
    import_runs,
    import_work,
    imports,
    uploads,
)
from registry.errors import BadInput
from registry.exchange import sheets
from registry.exchange.sheet_text import Written
from registry.models.people import Person
from registry.models.sites import Site

OPEN = {
    "columns": "Which column is which is not settled for this site",
    "days": "How its days are written is not settled",
    "words": "Some of its words are not explained",
}


@dataclass(frozen=True)
class Given:
    """How a file is written, and what its columns mean; None where they are our own."""

    written: Written
    translation: Translation | None


@dataclass(frozen=True)
class TakenIn:
    """What became of a file in words, and its rejected rows to be written beside it."""

    said: str
    rejected: Iterator[str] | None


def given(
    source: BinaryIO,
    site: Site,
    *,
    mapping: Mapping[str, Any] | None,
    encoding: str = "",
    separator: str = "",
) -> Given:
    """Return what is known of a file: from a mapping, or from what the site remembers.

    Raises BadInput for a mapping that cannot be used.
    """
    said = mapping or {}
    written = Written(
        encoding or str(said.get("encoding", "")), separator or str(said.get("separator", ""))
    )
    if mapping is not None:
        found = mapping_files.from_plain(mapping)
        return Given(written, replace(found, words=_with_sites(site, found)))
    header = sheets.read(source, written).header
    known = None if import_drafts.is_ours(header) else import_drafts.remembered(site, header)
    return Given(written, known)


def proposal(source: BinaryIO, site: Site, known: Given) -> str:
    """Return the mapping of a file as JSON: as it is known, or as it is proposed."""
    sheet = sheets.read(source, known.written)
    found = known.translation
    if found is None:
        survey = column_survey.survey_of(len(sheet.header))
        for row in sheet.rows:
            column_survey.note_row(survey, row.cells)
        proposals = column_proposal.propose(sheet.header, survey, import_drafts.codes_at(site))
        uses = tuple(ColumnUse(one.header, one.column) for one in proposals)
        found = Translation(uses, words=import_drafts.words_of(site))
    plain = {"encoding": known.written.encoding, "separator": known.written.separator}
    kept = {name: value for name, value in plain.items() if value}
    return json.dumps(kept | mapping_files.to_plain(found), indent=2, ensure_ascii=False)


def brought(
    content: "File[bytes]",
    name: str,
    site: Site,
    known: Given,
    *,
    by: Person,
    now: datetime,
) -> ImportDraft:
    """Keep a file to be taken in part by part, with what is known of it."""
    draft = uploads.keep_upload(content=content, name=name, site=site, by=by, now=now)
    draft.encoding, draft.separator = known.written.encoding, known.written.separator
    draft.save()
    import_work.work(draft, now=now, today=now.date())
    draft.refresh_from_db()
    if known.translation is not None and not draft.fault:
        wrong = case_translation.faults(known.translation)
        if wrong:
            uploads.forget_upload(draft)
            raise BadInput(" ".join(wrong))
        draft.mapping = mapping_files.to_plain(known.translation)
        draft.columns_settled = draft.days_settled = draft.words_settled = True
        draft.state, draft.rows_done = DraftState.CHECKING, 0
        draft.save()
    return draft


def stopped(source: BinaryIO, name: str, site: Site) -> ImportDraft:
    """Return the import of this very file that was stopped, free to go on.

    Raises BadInput where there is none.
    """
    content = imports.content_hash(source)
    found = ImportDraft.objects.filter(
        site=site, state=DraftState.LANDING, batch__content_hash=content
    ).select_related("site", "batch__started_by")
    draft = found.order_by("-brought_at").first()
    if draft is None:
        raise BadInput(f"There is no import of {name} at {site} that was stopped.")
    if draft.fault:
        import_runs.resume(draft)
    return draft


def taken_in(
    draft: ImportDraft, *, dry_run: bool, by: Person, now: datetime, today: date
) -> TakenIn:
    """Check a file and land its good rows, or go on with it where it stood.

    Raises BadInput for what cannot be read, is not settled, has no good row, or is held by another.
    """
    _work(draft, now, today)
    if draft.state == DraftState.SETTLING:
        said = _open(draft)
        uploads.forget_upload(draft)
        raise BadInput(
            f"{said}: settle it once in the browser, or print a mapping with --propose, complete it, "
            "and give it with --mapping."
        )
    if draft.state == DraftState.CHECKED:
        counts = (
            f"{draft.rows} rows read: {draft.rows_good} would be added, {draft.rows_known} known "
            f"already, {draft.rows_rejected} rejected, {draft.rows_waiting} wait for a decision."
        )
        if dry_run:
            uploads.forget_upload(draft)
            return TakenIn(f"{counts} Nothing was written.", None)
        import_runs.start(draft, by=by, now=now)
        _work(draft, now, today)
    return _receipt(draft)


def _work(draft: ImportDraft, now: datetime, today: date) -> None:
    if draft.at_work and not import_work.work(draft, now=now, today=today):
        raise BadInput("Another worker is at this file just now; try again in a few minutes.")
    if draft.fault:
        fault = draft.fault
        if draft.batch_id is None:
            uploads.forget_upload(draft)
        raise BadInput(fault)


def _receipt(draft: ImportDraft) -> TakenIn:
    batch = draft.batch
    if batch is None:
        raise BadInput("This file was not begun to be imported.")
    batch.refresh_from_db()
    said = (
        f"{batch.rows_read} rows read: {batch.rows_landed} added, {batch.rows_known} known already, "
        f"{batch.rows_refused} rejected, {batch.rows_waiting} left waiting for a decision."
    )
    return TakenIn(said, import_rejects.lines(draft) if batch.rows_refused else None)


def _open(draft: ImportDraft) -> str:
    if draft.previews:
        return "Its accented letters can be read in several ways (--encoding says which)"
    if not draft.columns_settled:
        return OPEN["columns"]
    return OPEN["days"] if not draft.days_settled else OPEN["words"]


def _with_sites(site: Site, found: Translation) -> dict[str, dict[str, str]]:
    """Return the site's words, overruled by those of the mapping."""
    words = import_drafts.words_of(site)
    for name, said in found.words.items():
        words.setdefault(name, {}).update(said)
    return words
