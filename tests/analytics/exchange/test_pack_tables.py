import io
import zipfile

from analytics.exchange.pack_tables import archive_of
from analytics.figures.sections import Section, Table, file_table

ROWS = ({"group": "LP", "events": 3}, {"group": "=1+1", "events": None, "note": "late"})
TABLE = Table("Rates.", ("Group",), (), name="held", data=ROWS)
SECTIONS = [
    Section(
        "held",
        "Did it hold?",
        "",
        (TABLE, Table("No file.", ("x",), ())),
        beside=(file_table("held-more", "Not printed.", ROWS),),
    )
]


def files(content: bytes) -> dict[str, list[str]]:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {name: archive.read(name).decode().splitlines() for name in archive.namelist()}


def test_each_named_table_is_a_file_with_what_made_it_on_top() -> None:
    found = files(archive_of(SECTIONS, {"snapshot": "abc"}))
    assert list(found) == ["held.csv", "held-more.csv"]
    assert found["held-more.csv"][0] == "# table,Not printed."
    assert found["held.csv"][:3] == ["# table,Rates.", "# snapshot,abc", "group,events,note"]


def test_no_cell_can_run_as_a_formula() -> None:
    assert files(archive_of(SECTIONS, {"snapshot": "abc"}))["held.csv"][4] == "'=1+1,,late"


def test_equal_tables_give_equal_bytes() -> None:
    one, two = (archive_of(SECTIONS, {"snapshot": "abc"}) for _ in range(2))
    assert one == two
