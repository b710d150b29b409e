"""Rejected rows come out in the file's own columns and words, and can be sent again."""

from typing import Any

import pytest

from followup.services import import_rejects
from registry.models import Procedure
from tests.followup.sent_files import landed, list_of, sent, settled, theirs

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture(autouse=True)
def own_folder(settings: Any, tmp_path: Any) -> None:
    settings.MEDIA_ROOT = tmp_path


def test_a_corrected_file_is_read_as_the_first_one_was() -> None:
    rows = (theirs(1, **{"OP-Datum": "25.02.2025"}), theirs(2, **{"OP-Datum": "30.02.2025"}))
    draft = settled(sent(list_of(*rows)), construct_type="LP")
    landed(draft)
    text = "".join(import_rejects.lines(draft))
    head, line = text.splitlines()
    assert head == f"{','.join(theirs())},reason"
    assert "30.02.2025" in line
    assert "OP-Datum: '2025-2-30' is not a possible date" in line
    again = sent(text.replace("30.02.2025", "28.02.2025").encode())
    assert (again.fault, again.rows_good) == ("", 1)
    landed(again)
    days = Procedure.objects.order_by("performed_on").values_list("performed_on", flat=True)
    assert [str(day) for day in days] == ["2025-02-25", "2025-02-28"]


def test_cells_that_could_run_are_guarded_on_the_way_out() -> None:
    rows = (theirs(1), theirs(2, **{"OP-Datum": "soon", "Bemerkung": "=1+1"}))
    draft = settled(sent(list_of(*rows)), construct_type="LP")
    assert ",'=1+1," in "".join(import_rejects.lines(draft))
