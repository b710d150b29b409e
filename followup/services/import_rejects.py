"""The rows of a file that were not taken, as they came, each with its reasons: to correct and send again."""

from collections.abc import Iterator, Sequence

from followup.models.imports import ImportDraft, RowFinding
from followup.services import import_checks, import_drafts
from followup.services.uploads import open_upload
from registry.exchange import sheets
from registry.exchange.sheets import Row
from registry.models.imports import ImportFate, ImportRow


def lines(draft: ImportDraft) -> Iterator[str]:
    """Yield a CSV table of the rejected rows in the file's own columns, line by line.

    Rows that wait for a decision are not among them: they land when it is made.
    """
    with open_upload(draft) as source:
        sheet = sheets.read(source, import_drafts.written_of(draft))
        yield from sheets.rejected_lines(sheet.header, _rejected(draft, sheet))


def _rejected(draft: ImportDraft, sheet: sheets.Sheet) -> Iterator[tuple[Row, str]]:
    for rows in import_checks.chunks(sheet):
        reasons = _reasons(draft, rows)
        for row in rows:
            if row.line in reasons:
                yield row, reasons[row.line]


def _reasons(draft: ImportDraft, rows: Sequence[Row]) -> dict[int, str]:
    """Return why rows were rejected: by the check, or by what a service refused of them later."""
    first, last = rows[0].line, rows[-1].line
    found: dict[int, list[str]] = {}
    for one in draft.findings.filter(kind=RowFinding.REJECTED, line__range=(first, last)):
        said = f"{one.column}: {one.reason}" if one.column else one.reason
        found.setdefault(one.line, []).append(said)
    reasons = {line: "; ".join(said) for line, said in found.items()}
    if draft.batch_id is not None:
        refused = ImportRow.objects.filter(
            batch=draft.batch_id, fate=ImportFate.REFUSED, line__range=(first, last)
        )
        for line, reason in refused.values_list("line", "reason"):
            reasons.setdefault(line, reason)
    return reasons
