"""Findings on the films of the invented service: they are those of a reader who looked."""

import pytest
from django.db.models import Count, Q

from config.demo.load import Wanted, load
from followup.models import Reading, ReadingFinding
from followup.rules import findings
from followup.selectors.findings import found_in
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def test_some_films_have_findings_and_none_contradicts_its_reading() -> None:
    load(Wanted(procedures=90), now=NOW, today=TODAY, whole=True)
    rows = Reading.objects.prefetch_related("findings")
    told = [(reading, found_in(reading)) for reading in rows]
    looked = [(reading, found) for reading, found in told if found]
    assert 0 < len(looked) < len(told) / 2
    for reading, found in looked:
        assert findings.faults(found) == {}
        assert findings.contradiction(reading.hardware, found) == ""
        assert all(one.site_id == reading.site_id for one in reading.findings.all())
    counts = ReadingFinding.objects.aggregate(
        there=Count("pk", Q(state="present")), absent=Count("pk", Q(state="absent"))
    )
    assert 0 < counts["there"] < counts["absent"]
