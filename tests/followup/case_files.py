"""Files of cases, as a service would send them: each test names only the cells that matter."""

import csv
import io

from followup.rules.case_columns.catalogue import COLUMNS

PLAIN = {
    "local_id": "000417",
    "family_name": "Anders",
    "given_name": "Mila",
    "birth_date": "1986-04-12",
    "injury_kind": "lateral_clavicle",
    "injury_date": "2025-02-03",
    "side": "left",
    "other_shoulder": "uninjured",
    "procedure_date": "2025-02-06",
    "construct_type": "LP",
}
HEADER = tuple(column.name for column in COLUMNS)


def case(number: int = 417, **cells: str) -> dict[str, str]:
    """Return a row that can be used; numbers tell patients apart, by number, names and all."""
    return {**PLAIN, "local_id": f"{number:06d}", **_named(number), **cells}


def _named(number: int) -> dict[str, str]:
    if number == 417:
        return {}
    letters = "".join("abcdefghij"[int(digit)] for digit in str(number))
    return {"family_name": f"Anders{letters}", "given_name": f"Mila{letters}"}


def file_of(*rows: dict[str, str], header: tuple[str, ...] = HEADER) -> io.BytesIO:
    """Return a CSV file with these rows."""
    text = io.StringIO()
    writer = csv.DictWriter(text, header, restval="")
    writer.writeheader()
    writer.writerows(rows)
    return io.BytesIO(text.getvalue().encode())
