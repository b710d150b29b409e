"""Any table of an answer as a file, with what reproduces it on top."""

from typing import Any

from django.http import HttpResponse

from analytics.selectors import outcomes as selector
from analytics.selectors.outcomes import Given
from registry.exchange import sheets


def csv_file(rows: list[dict[str, Any]], view: Given, message: str, file_name: str) -> HttpResponse:
    """Answer with rows as a CSV file, or with what was wrong in the address."""
    if message:
        return HttpResponse(message, status=400, content_type="text/plain; charset=utf-8")
    answer = HttpResponse(content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{file_name}"'
    columns = list(dict.fromkeys(name for row in rows for name in row))
    made = [[f"# {name}", value] for name, value in selector.provenance(view).items()]
    table = [*made, columns, *([row.get(name) for name in columns] for row in rows)]
    answer.writelines(sheets.csv_lines(table[0], table[1:]))
    return answer
