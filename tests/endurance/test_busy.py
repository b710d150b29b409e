"""What the busy service is read by: forms as a browser sends them, and the log of slow statements."""

from pathlib import Path

import pytest

from tests.bench import slow_log
from tests.bench.forms import form_of

PAGE = """
<form action="/find/"><input name="q"></form>
<form method="post" action="/reviews/4/book/">
  <input type="hidden" name="csrfmiddlewaretoken" value="abc">
  <input type="hidden" name="version" value="3">
  <input type="checkbox" name="ticked" checked><input type="checkbox" name="empty">
  <select name="slot"><option value="">choose</option><option value="7|2026-12-01|09:00">9</option></select>
  <textarea name="note">as before</textarea>
  <button name="next">Book</button>
</form>
"""
LOG = """2026-11-30 20:00:00.000 UTC [7] LOG:  database system is ready
2026-11-30 20:00:01.000 UTC [8] LOG:  duration: 120.5 ms  statement: SELECT a FROM t WHERE id IN (1, 2, 3) AND name = 'O''Hara'
2026-11-30 20:00:02.000 UTC [8] LOG:  duration: 240.0 ms  statement: SELECT a FROM t
\tWHERE id IN (4, 5) AND name = 'Quill'
2026-11-30 20:00:03.000 UTC [8] LOG:  duration: 101.0 ms  execute <unnamed>: UPDATE t SET n = 12
"""


def test_a_form_is_sent_as_a_browser_would() -> None:
    form = form_of(PAGE, "/reviews/4/book/")
    kept = {"csrfmiddlewaretoken": "abc", "version": "3", "ticked": "on", "note": "as before"}
    assert form.values == {**kept, "slot": ""}
    assert form.choices == {"slot": ["7|2026-12-01|09:00"]}
    sent = form.filled(slot="7|2026-12-01|09:00", unknown="x")
    assert sent == {**kept, "slot": "7|2026-12-01|09:00"}
    with pytest.raises(LookupError, match="no form"):
        form_of(PAGE, "/reviews/5/book/")


def test_slow_statements_that_differ_in_values_alone_are_one(tmp_path: Path) -> None:
    log = tmp_path / "log"
    log.write_text(LOG)
    found = slow_log.statements(log)
    assert [(one.count, one.most_ms) for one in found] == [(2, 240.0), (1, 101.0)]
    assert found[0].text == "SELECT a FROM t WHERE id IN (?) AND name = ?"
    assert found[1].text == "UPDATE t SET n = ?"
    assert slow_log.statements(log, slow_log.length(log)) == []
