"""Files that were sent, taken through what a person and the background do with them."""

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from django.core.files.base import ContentFile

from followup.models.imports import DraftState, ImportDraft, ImportPair
from followup.rules.column_survey import word_key
from followup.services import import_drafts, import_runs, import_work, uploads
from registry.models import ImportBatch, Person, Site
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup.case_files import case, file_of

# A department's own list, as it stands for years: own names, own words, day first, decimal commas.
THEIRS: dict[str, str] = {
    "Pat.-Nr.": "000417",
    "Name": "Anders",
    "Vorname": "Mila",
    "Geb.-Datum": "12.04.1986",
    "Diagnose": "LCF",
    "Unfalldatum": "03.02.2025",
    "Seite": "li",
    "OP-Datum": "06.02.2025",
    "Implantat": "Platte",
    "BMI": "23,4",
    "6 Wo Datum": "20.03.2025",
    "6 Wo Schmerz": "3",
    "Bemerkung": "nett",
}


def theirs(number: int = 417, **cells: str) -> dict[str, str]:
    """Return a row of the department's own list; numbers tell people apart."""
    letters = "".join("abcdefghij"[int(digit)] for digit in str(number))
    named = {"Name": f"Anders{letters}", "Vorname": f"Mila{letters}"} if number != 417 else {}
    return {**THEIRS, "Pat.-Nr.": f"{number:06d}", **named, **cells}


def list_of(*rows: Mapping[str, str], encoding: str = "utf-8", separator: str = ";") -> bytes:
    """Return a department's list as a text file."""
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]), delimiter=separator, restval="")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue().encode(encoding)


def connie() -> Person:
    """Return who imports."""
    return builders.person("connie", north="coordinator")


def sent(content: bytes, name: str = "cases.csv") -> ImportDraft:
    """Send a file and let the background read it as far as it goes."""
    draft = uploads.keep_upload(
        content=ContentFile(content, name), name=name, site=builders.site(), by=connie(), now=NOW
    )
    import_work.work(draft, now=NOW, today=TODAY)
    draft.refresh_from_db()
    return draft


def sent_ours(*rows: dict[str, str]) -> ImportDraft:
    """Send a file that has our own columns; it is checked at once."""
    return sent(file_of(*rows).getvalue())


def settled(draft: ImportDraft, **words: str) -> ImportDraft:
    """Agree with what is proposed for the department's own list, and say what is asked."""
    fields = {use.header: use.column for use in import_drafts.translation_of(draft).uses}
    import_drafts.settle_columns(draft, fields=fields, same_for_all={}, by=connie(), now=NOW)
    styles = {
        one.use.header: replace(
            one.settled.style,
            order=one.settled.style.order or ("day_first" if one.settled.asks_order else ""),
        )
        for one in import_drafts.day_questions(draft)
        if one.settled is not None
    }
    if styles:
        import_drafts.settle_days(draft, styles=styles, decimals={}, by=connie(), now=NOW)
    said: dict[str, dict[str, str]] = {}
    for question in import_drafts.word_questions(draft):
        code = words.get(question.vocabulary) or question.proposal
        assert code is not None, question
        said.setdefault(question.vocabulary, {})[word_key(question.word)] = code
    if said:
        import_drafts.settle_words(draft, words=said, by=connie(), now=NOW)
    import_work.work(draft, now=NOW, today=TODAY)
    draft.refresh_from_db()
    return draft


def decide(draft: ImportDraft, answer: str) -> None:
    """Say the same about every pair that is open."""
    ImportPair.objects.filter(draft=draft, answer="").update(
        answer=answer, answered_by=connie(), answered_at=NOW
    )


def landed(draft: ImportDraft) -> ImportBatch:
    """Import what can be imported of a checked file."""
    batch = import_runs.start(draft, by=connie(), now=NOW)
    import_work.work(draft, now=NOW, today=TODAY)
    batch.refresh_from_db()
    return batch


def states(draft: ImportDraft) -> DraftState:
    """Return how far a file is."""
    return DraftState(draft.state)


def found(draft: ImportDraft) -> Sequence[tuple[int, str, str]]:
    """Return what was found: line, column and reason."""
    rows: Any = draft.findings.values_list("line", "column", "reason")
    return list(rows)


def refused(site: Site, by: Person, who: Mapping[str, Any]) -> str:
    """Send a file of cases that names somebody and cannot be imported, so that it stays."""
    named = {name: str(who[name]) for name in ("family_name", "given_name", "phone")}
    row = case(**named, birth_date=str(who["birth_earliest"]), injury_date="2025-02-30")
    content = ContentFile(file_of(row).getvalue())
    draft = uploads.keep_upload(content=content, name="cases.csv", site=site, by=by, now=NOW)
    import_work.work(draft, now=NOW, today=TODAY)
    return draft.token


def imported(site: Site, by: Person) -> int:
    """Write a file down that was imported, without a row of it."""
    batch = ImportBatch.objects.create(
        site=site,
        file_name="cases.csv",
        content_hash="0" * 64,
        started_at=NOW,
        started_by=by,
        ended_at=NOW,
        state="done",
        rows_read=0,
        rows_landed=0,
        rows_known=0,
        rows_refused=0,
    )
    return int(batch.pk)
