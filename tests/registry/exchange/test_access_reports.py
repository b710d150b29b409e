from datetime import UTC, datetime

from registry.exchange import access_reports
from registry.selectors.held import Held, HeldRow, HeldTable, Seen

AT = datetime(2026, 11, 25, 9, tzinfo=UTC)
ABOUT = access_reports.About("ABCD2345", AT, "a letter")


def many(rows: int) -> Held:
    cells = (("Family name", 'Ö "quoted" #not-code $x$ \x07'), ("Note", "one\ntwo"))
    seen = Seen(
        AT, "staff member 1 (surgeon at North)", "changed", "injury", "", (("Side", "l", "r"),)
    )
    return Held(
        tables=(HeldTable("t", "Things", tuple(HeldRow(n, cells) for n in range(rows))),),
        trail=(seen,) * rows,
        taken=(),
        files=(("films", "a.png"),),
        elsewhere=("case 3 of a chart",),
    )


def test_hostile_words_are_set_as_text_and_long_reports_run_over_pages() -> None:
    assert access_reports.pdf_of(many(3), ABOUT).startswith(b"%PDF-")
    assert len(access_reports.pictures_of(many(120), ABOUT, 20.0)) > 3


def test_the_data_say_what_is_enclosed() -> None:
    said = access_reports.json_of(many(1), ABOUT, ["a.png"])
    assert '"enclosed": false' in said
    assert '"Family name"' in said
    assert "staff member 1 (surgeon at North)" in said
