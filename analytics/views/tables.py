"""Any table of an answer as a file, with what reproduces it on top."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.http import HttpResponse
from django.utils import timezone

from analytics.rules import suppression
from analytics.rules.suppression import Shape
from analytics.selectors import outcomes as selector
from analytics.selectors.outcomes import Given
from analytics.services import releases
from registry.errors import BadInput
from registry.exchange import sheets

TYPES = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
# What of a table's making is itself a small number.
SMALL = ("left_out",)


def table_file(
    rows: list[dict[str, Any]],
    view: Given,
    message: str,
    name: str,
    shape: Shape | None = None,
) -> HttpResponse:
    """Answer with rows as the file that the address asks for, or with what was wrong in it.

    CSV or XLSX, exact for the team, or with small numbers hidden for outside; the latter needs the
    table's shape.
    """
    if not message and view.outside and shape is None:
        message = "This table has no form for outside the team: take it for the team."
    if message:
        return HttpResponse(message, status=400, content_type="text/plain; charset=utf-8")
    made = selector.provenance(view)
    if view.outside and shape is not None:
        try:
            rows, more = releases.let_out(
                view=view, what=name, rows=rows, shape=shape, by=view.asked_by, now=timezone.now()
            )
        except BadInput as fault:
            return HttpResponse(str(fault), status=400, content_type="text/plain; charset=utf-8")
        made = {key: value for key, value in made.items() if key not in SMALL}
        made["small_numbers"] = "; ".join(filter(None, [suppression.RULE, more]))
    columns = list(dict.fromkeys(column for row in rows for column in row))
    lines = ([row.get(column) for column in columns] for row in rows)
    told = f"{name.removesuffix('.csv')}{'-outside' if view.outside else ''}"
    return written(view.file_kind, told, made, columns, lines)


def written(
    kind: str,
    name: str,
    made: Mapping[str, Any],
    columns: Sequence[str],
    lines: Iterable[Sequence[Any]],
) -> HttpResponse:
    """Answer with a table as a CSV or XLSX file, what it was made from on top."""
    answer = HttpResponse(content_type=TYPES[kind])
    answer["Content-Disposition"] = f'attachment; filename="{name}.{kind}"'
    table: list[Sequence[Any]] = [[f"# {key}", value] for key, value in made.items()]
    table += [columns, *lines]
    if kind == "xlsx":
        sheets.write_workbook(answer, name[:31], table[0], table[1:])
    else:
        answer.writelines(sheets.csv_lines(table[0], table[1:]))
    return answer


# The name by which pages ask for it that were written when there was one kind of file.
csv_file = table_file
