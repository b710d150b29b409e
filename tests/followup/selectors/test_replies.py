"""What patients wrote back, for whoever may read it."""

from typing import Any

import pytest

from followup.models import Reply
from followup.selectors import replies as selector
from registry.models import Person
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.usefixtures("defaults")


def reply(site: str = "north", **values: Any) -> Reply:
    given = {"key": f"k{Reply.objects.count()}", "means": "text", "sender": "0555 1", "text": "Hi"}
    return Reply.objects.create(
        site=builders.site(site), received_at=NOW, taken_at=NOW, **{**given, **values}
    )


def test_what_waits_comes_first_and_the_newest_on_top(coordinator: Person) -> None:
    older, newer, done = reply(), reply(), reply(fate="stopped")
    reply("south")
    assert list(selector.replies_seen(coordinator, "waiting")) == [newer, older]
    assert list(selector.replies_seen(coordinator, "all")) == [done, newer, older]
    assert selector.waiting_count(coordinator) == 2


def test_who_may_not_see_names_reads_neither_number_nor_text(
    coordinator: Person, administrator: Person
) -> None:
    row = reply()
    patient = builders.patient(family_name="Quill")
    row.patients.add(patient)
    (seen,) = selector.lines(coordinator, [row])
    assert (seen.sender, seen.text, seen.whose[0].shown) == ("0555 1", "Hi", "Quill, Ada")
    assert seen.whose[0].may_open
    (hidden,) = selector.lines(administrator, [row])
    assert (hidden.sender, hidden.text, hidden.whose[0].shown) == ("", "", patient.key)
    assert not hidden.whose[0].may_open
    assert hidden.waits
