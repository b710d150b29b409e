from typing import Any

import pytest

from followup.exchange.fhir import sources
from registry.selectors import fhir_rows
from tests import builders
from tests.builders import NOW
from tests.fhir_rows import surgeon_sees

pytestmark = pytest.mark.django_db


def test_sources_of_observations_have_ids_that_do_not_collide() -> None:
    prefixes = [one.prefix for one in sources.observation_sources()]
    assert len(prefixes) == len(set(prefixes)) == 17
    assert all(prefixes)


def test_what_is_written_by_name_is_so_only_where_names_are_seen() -> None:
    def write(row: Any, *, by_name: bool) -> dict[str, Any]:
        return {"by_name": by_name}

    row = builders.injury()
    assert sources.by_name(write)(row, surgeon_sees()) == {"by_name": True}
    lead = fhir_rows.reader(builders.person("lead", north="quality_lead"))
    assert sources.by_name(write)(row, lead) == {"by_name": False}
    assert sources.by_names(lambda row, *, named: {"named": named}, "named")(row, lead) == {
        "named": False
    }
    assert sources.plain(lambda row: {"pk": row.pk})(row, lead) == {"pk": row.pk}


def test_only_rows_with_a_value_or_a_reason_are_asked() -> None:
    source = next(one for one in sources.observation_sources() if one.prefix == "motion-flexion")
    assert not source.seen(surgeon_sees()).exists()


def test_a_status_is_searched_by_fhirs_own_code() -> None:
    param = sources.statuses(in_progress=sources.Q(pk=1))
    assert param.condition("in-progress", surgeon_sees(), NOW) == sources.Q(pk=1)
    assert param.condition("completed", surgeon_sees(), NOW) is None
    assert sources.of("patient__key", onset_date=param).keys() == {
        "patient",
        "subject",
        "onset-date",
    }
