from datetime import date, timedelta
from typing import Any

import pytest

from followup.exchange.fhir import search
from followup.exchange.fhir.kinds import KINDS
from followup.services import complications, motion
from registry.models import Procedure
from registry.rules.fhir import queries
from registry.rules.fhir.outcomes import Refused
from registry.selectors import fhir_rows
from registry.services import records
from tests import builders
from tests.builders import NOW, TODAY
from tests.fhir_rows import surgeon_sees

pytestmark = pytest.mark.django_db


@pytest.fixture
def operation() -> Procedure:
    return builders.procedure()


def exam(operation: Procedure, day: int = 17, **values: Any) -> Any:
    given = {"examined_on": date(2026, 7, day), "side": "left", "mode": "active", **values}
    return motion.record_motion(
        injury=operation.injury, values=given, by=operation.recorded_by, now=NOW, today=TODAY
    )


def found(kind: str, *pairs: tuple[str, str]) -> list[str]:
    query = queries.parse(pairs, search.known_params(KINDS[kind]))
    page = search.find(KINDS[kind], query, surgeon_sees(), NOW)
    assert page.total is None or page.total >= len(page.resources)
    return [one["id"] for one in page.resources]


def test_a_code_finds_what_has_it_and_asks_no_other_source(operation: Procedure) -> None:
    row = exam(operation, abduction_deg=90, flexion_deg=100)
    exam(operation, side="right", abduction_deg=170)
    assert found("Observation", ("code", "http://loinc.org|41299-9")) == [
        f"motion-abduction-{row.pk}"
    ]
    assert len(found("Observation", ("code", "abduction"))) == 2
    assert len(found("Observation", ("code", "abduction,flexion"))) == 3
    assert found("Observation", ("code", "abduction"), ("code", "flexion")) == []


def test_pages_go_through_all_sources_without_gap_or_repeat(operation: Procedure) -> None:
    for day in range(1, 8):
        exam(operation, day, abduction_deg=90, flexion_deg=100, external_rotation_deg=20)
    seen: list[str] = []
    pairs: list[tuple[str, str]] = [("_count", "4")]
    while True:
        query = queries.parse(pairs, search.known_params(KINDS["Observation"]))
        page = search.find(KINDS["Observation"], query, surgeon_sees(), NOW)
        seen += [one["id"] for one in page.resources]
        if not page.onward:
            break
        assert len(page.resources) == 4
        pairs = [("_count", "4"), ("_page", page.onward)]
    assert len(seen) == len(set(seen)) == 21


def test_dates_and_last_update_narrow(operation: Procedure) -> None:
    exam(operation, 1, flexion_deg=90)
    late = exam(operation, 20, flexion_deg=100)
    assert found("Observation", ("date", "ge2026-07-15")) == [f"motion-flexion-{late.pk}"]
    assert found("Observation", ("_lastUpdated", "gt2026-11-26")) == []
    assert len(found("Observation", ("_lastUpdated", "2026-11-25"))) == 2


def test_ids_are_found_whichever_source_they_are_of(operation: Procedure) -> None:
    row = exam(operation, flexion_deg=90, abduction_deg=90)
    ids = f"motion-flexion-{row.pk},score-{row.pk},nonsense,motion-flexion-x"
    assert found("Observation", ("_id", ids)) == [f"motion-flexion-{row.pk}"]
    assert found("Procedure", ("_id", str(operation.pk))) == [str(operation.pk)]
    assert found("Procedure", ("_id", "9" * 30)) == []


def test_only_a_count_is_given_where_only_that_is_asked(operation: Procedure) -> None:
    query = queries.parse([("_summary", "count")], search.known_params(KINDS["Procedure"]))
    page = search.find(KINDS["Procedure"], query, surgeon_sees(), NOW)
    assert (page.total, page.resources) == (1, ())


def test_who_is_named_on_a_page_is_told_to_whoever_writes_it_down() -> None:
    person = builders.patient()
    query = queries.parse([], search.known_params(KINDS["Patient"]))
    assert list(search.find(KINDS["Patient"], query, surgeon_sees(), NOW).named) == [person]
    lead = fhir_rows.reader(builders.person("lead", north="quality_lead"))
    page = search.find(KINDS["Patient"], query, lead, NOW)
    assert (len(page.resources), list(page.named)) == (1, [])


def test_a_voided_row_is_read_as_an_error_and_not_searched(operation: Procedure) -> None:
    row = exam(operation, flexion_deg=90)
    records.void(row, by=operation.recorded_by, now=NOW, expected_version=1, reason="other side")
    resource, _ = search.read(KINDS["Observation"], f"motion-flexion-{row.pk}", surgeon_sees())
    assert resource["status"] == "entered-in-error"
    assert found("Observation", ("code", "flexion")) == []


def test_what_has_no_status_is_gone_when_it_was_voided(operation: Procedure) -> None:
    row = complications.record_complication(
        procedure=operation,
        values={"kind": "nerve", "detected_on": date(2026, 7, 1), "grade": "I"},
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )
    records.void(row, by=operation.recorded_by, now=NOW, expected_version=1, reason="nobody")
    with pytest.raises(Refused) as fault:
        search.read(KINDS["AdverseEvent"], str(row.pk), surgeon_sees())
    assert fault.value.status == 410
    whose = operation.injury.patient
    records.void(whose, by=operation.recorded_by, now=NOW, expected_version=1, reason="test")
    with pytest.raises(Refused) as fault:
        search.read(KINDS["Patient"], whose.key, surgeon_sees())
    assert fault.value.status == 410


def test_what_is_not_there_is_not_found() -> None:
    for key in ("motion-flexion-1", "nonsense", "x-y-z"):
        with pytest.raises(Refused) as fault:
            search.read(KINDS["Observation"], key, surgeon_sees())
        assert fault.value.status == 404


def test_a_stream_gives_everything_once_in_bounded_lists(operation: Procedure) -> None:
    for day in range(1, 8):
        exam(operation, day, flexion_deg=90)
    source = next(one for one in KINDS["Observation"].sources if one.prefix == "motion-flexion")
    chunks = list(search.streamed(KINDS["Observation"], source, surgeon_sees(), None, 3))
    assert [len(chunk) for chunk in chunks] == [3, 3, 1]


def test_since_a_moment_what_was_voided_comes_as_an_error(operation: Procedure) -> None:
    first, second = exam(operation, 1, flexion_deg=90), exam(operation, 2, flexion_deg=90)
    later = NOW + timedelta(hours=1)
    records.void(second, by=operation.recorded_by, now=later, expected_version=1, reason="wrong")
    source = next(one for one in KINDS["Observation"].sources if one.prefix == "motion-flexion")
    ((gone,),) = search.streamed(
        KINDS["Observation"], source, surgeon_sees(), NOW + timedelta(minutes=1), 10
    )
    assert (gone["id"], gone["status"]) == (f"motion-flexion-{second.pk}", "entered-in-error")
    ((kept,),) = search.streamed(KINDS["Observation"], source, surgeon_sees(), None, 10)
    assert kept["id"] == f"motion-flexion-{first.pk}"


def test_code_systems_are_found_by_id_and_address() -> None:
    by_url = queries.parse(
        [("url", "https://registry.example/CodeSystem/side")], search.CODE_SYSTEM_PARAMS
    )
    (side,) = search.find_code_systems(by_url).resources
    assert side["id"] == "side"
    assert search.read_code_system("side") == side
    counted = search.find_code_systems(
        queries.parse([("_summary", "count")], search.CODE_SYSTEM_PARAMS)
    )
    assert counted.resources == ()
    assert (counted.total or 0) > 40
    with pytest.raises(Refused):
        search.read_code_system("nothing")
