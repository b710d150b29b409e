"""The tables of a pack as CSV files in one archive: equal data give equal bytes."""

import io
import zipfile
from collections.abc import Iterable, Mapping
from typing import Any

from analytics.figures.sections import Section, Table
from registry.exchange import sheets

# An archive notes a time for each file; one that never changes keeps the bytes the same.
FIXED = (1980, 1, 1, 0, 0, 0)


def archive_of(sections: Iterable[Section], facts: Mapping[str, Any]) -> bytes:
    """Return an archive with a CSV file for each table that has a name, what made it on top."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for section in sections:
            for table in (*section.tables, *section.beside):
                if table.name:
                    entry = zipfile.ZipInfo(f"{table.name}.csv", FIXED)
                    entry.compress_type = zipfile.ZIP_DEFLATED
                    entry.create_system = 3
                    archive.writestr(entry, "".join(_lines(table, facts)).encode("utf-8"))
    return out.getvalue()


def _lines(table: Table, facts: Mapping[str, Any]) -> Iterable[str]:
    columns = list(dict.fromkeys(name for row in table.data for name in row))
    made = [["# table", table.caption], *([f"# {name}", value] for name, value in facts.items())]
    rows = [*made, columns, *([row.get(name) for name in columns] for row in table.data)]
    return sheets.csv_lines(rows[0], rows[1:])
