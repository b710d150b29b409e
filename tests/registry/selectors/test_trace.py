from datetime import date
from itertools import product
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.models import ImplantModel, Part, Person, Site
from registry.rules import batches
from registry.rules.notice_matching import Certainty, Scope, match
from registry.selectors import trace
from registry.selectors.safety_notices import facts_of
from registry.selectors.trace import Question, parts_of
from registry.services import patients
from tests import builders
from tests.builders import NOW, TODAY
from tests.implanted import PLATE, SCREW, later, part

pytestmark = pytest.mark.django_db
TYPED = (
    *("LOT42A", "lot 42a", "LOT-42-A", "L0T42A", "LOT42A21SN0042", "LOT42A17270101"),
    *("010950600013435210LOT42A", "LOT42B", "LOT42A001", "LOT42A1", "lot42a 099", "LOT42A100"),
    *("LOT42A05021SN7", "", "4711", "0004711", "A.B%_\\[1]^", "a.b%_\\[1]^", "é-9", "É9"),
)


def several() -> list[Part]:
    """Write parts of each batch, with and without an article's numbers."""
    operation = builders.procedure()
    articles = (
        {"device_identifier": PLATE},
        {"device_identifier": "", "catalogue_number": "P-6"},
        {"device_identifier": SCREW, "catalogue_number": "p6"},
        {"device_identifier": ""},
    )
    rows = []
    for number, (batch, article) in enumerate(product(TYPED, articles)):
        on = date(2027, 1, 1 + number % 28) if number % 3 else None
        serial = f"S-{number % 7}" if number % 2 else ""
        rows.append(part(operation, batch=batch, serial=serial, expires_on=on, **article))
    # The plate has a further identifier, and is also listed without any.
    plate = rows[0].implant_model
    for further in ({"device_identifier": "09506000999999"}, {"description": "plate by hand"}):
        row = part(operation, batch="LOT42A", **{"device_identifier": "", **further})
        rows.append(row)
        ImplantModel.objects.filter(pk=row.implant_model_id).update(same_as=plate)
    for row in rows:
        row.implant_model.refresh_from_db()
    return rows


def test_the_database_folds_and_orders_as_the_rules_do() -> None:
    for row in several():
        row.refresh_from_db()
        assert row.batch_folded == batches.folded(row.batch)
        assert row.batch_ordered == batches.order_key(row.batch)
        assert row.batch_alike == batches.alike_key(row.batch)
        assert row.serial_folded == batches.folded(row.serial)


def test_a_batch_that_is_corrected_past_the_models_is_found_by_its_new_text() -> None:
    row = part(batch="LOT1")
    Part.objects.filter(pk=row.pk).update(batch="lot 2")
    assert Part.objects.get(pk=row.pk).batch_folded == "LOT2"


def scopes() -> list[Scope]:
    """Return questions of each sort, alone and together."""
    numbers = [None, batches.span("LOT42A"), batches.span("LOT42A001", "LOT42A099")]
    numbers += [batches.span("4711"), batches.span("A.B%_\\[1]^"), batches.span("é9")]
    articles = [("", ""), (PLATE, ""), ("", "P-6"), (PLATE, "P 6")]
    serials = [None, batches.span("S2", "S5")]
    expiries = [None, (date(2027, 1, 5), date(2027, 1, 20))]
    made = (
        Scope(device, catalogue, batch, serial, expiry)
        for (device, catalogue), batch, serial, expiry in product(
            articles, numbers, serials, expiries
        )
    )
    return [scope for scope in made if not scope.is_empty]


def test_the_database_finds_what_the_rules_call_certain_near_and_not_to_be_excluded() -> None:
    rows = several()
    looker = builders.person("looker", north="coordinator")
    for scope in scopes():
        said = {row.pk: match(scope, facts_of(row)) for row in rows}
        for certainty in Certainty:
            found = set(parts_of(looker, Question(scope), certainty).values_list("pk", flat=True))
            wanted = {pk for pk, one in said.items() if one and one.certainty is certainty}
            assert found == wanted, (scope, certainty)
        any_of_them = set(trace.candidates([scope]).values_list("pk", flat=True))
        assert any_of_them == {pk for pk, one in said.items() if one}


def test_a_part_is_sought_by_words_kind_site_and_day() -> None:
    looker = builders.person("looker", north="coordinator", east="surgeon")
    north, east = builders.site("north"), builders.site("east")
    one = part(at=north)
    other = part(at=east, kind="screw", description="locking screw", device_identifier=SCREW)

    def found(**asked: Any) -> list[Part]:
        return list(parts_of(looker, Question(**asked), Certainty.CERTAIN).order_by("pk"))

    assert found(kind="screw") == [other]
    assert found(words="SIX plate") == [one]
    assert found(words="plate", sites=(east.pk,)) == []
    assert found(operated_from=date(2026, 6, 5), operated_to=date(2026, 6, 5)) == [one, other]
    assert found(operated_from=date(2026, 6, 6)) == []


def test_another_site_s_parts_are_not_found_even_when_its_key_is_given(outsider: Person) -> None:
    row = part(batch="LOT42A")
    asked = Question(Scope(batch=batches.span("LOT42A")), sites=(row.site_id,))
    assert list(parts_of(outsider, asked, Certainty.CERTAIN)) == []


def end(row: Part, status: str) -> None:
    """Let the patient of a part die or withdraw."""
    patient = row.construct.procedure.injury.patient
    patients.change_status(
        patient=patient,
        status=status,
        on=TODAY,
        note="",
        expected_version=patient.version,
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
    )


def test_where_a_part_is_goes_by_what_is_recorded() -> None:
    looker = builders.person("looker", north="coordinator")
    names = ("in_place", "removed", "unknown", "died", "withdrawn", "removed_then_died")
    rows = {name: part(batch="LOT42A") for name in names}
    removal = later(rows["removed"].construct.procedure, "implant_removal")
    later(rows["unknown"].construct.procedure, "revision_fixation")
    later(rows["removed_then_died"].construct.procedure, "implant_removal")
    for name in ("died", "removed_then_died"):
        end(rows[name], "died")
    end(rows["withdrawn"], "withdrawn")
    asked = Question(Scope(batch=batches.span("LOT42A")))
    found = list(trace.in_detail(parts_of(looker, asked, Certainty.CERTAIN)))
    places = {row.pk: row.place for row in found}
    assert {name: places[row.pk] for name, row in rows.items()} == {
        "in_place": "in_place",
        "removed": "removed",
        "unknown": "unknown",
        "died": "died",
        "withdrawn": "withdrawn",
        "removed_then_died": "removed",
    }
    removals = trace.removals_of(found)
    assert removals[rows["removed"].construct.procedure_id] == removal
    (line,) = trace.counts(parts_of(looker, asked, Certainty.CERTAIN))
    assert line.total == 6
    assert line.places == {"removed": 2, "died": 1, "withdrawn": 1, "unknown": 1, "in_place": 1}


def test_counts_are_by_site_and_add_up_to_the_list() -> None:
    looker = builders.person("looker", north="coordinator", east="quality_lead")
    places: tuple[Site, ...] = (builders.site("north"), builders.site("east"))
    for number in range(5):
        part(at=places[number % 2], batch="LOT42A")
    asked = Question(Scope(batch=batches.span("LOT42A")))
    rows = parts_of(looker, asked, Certainty.CERTAIN)
    assert [(line.site, line.total) for line in trace.counts(rows)] == [
        ("East Hospital", 2),
        ("North Hospital", 3),
    ]


@given(st.sampled_from(TYPED), st.sampled_from(TYPED))
def test_a_question_is_empty_only_when_nothing_is_asked(one: str, other: str) -> None:
    asked = Question(words=one.strip(), kind=other.strip())
    assert asked.is_empty is (not one.strip() and not other.strip())
