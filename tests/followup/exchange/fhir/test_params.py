from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.db.models import Q

from followup.exchange.fhir import params
from registry.models import Injury
from registry.models.foreign_numbers import ForeignNumber
from registry.rules.fhir.outcomes import Refused
from tests import builders
from tests.builders import NOW
from tests.fhir_rows import surgeon_sees

pytestmark = pytest.mark.django_db


def met(param: params.Param, value: str) -> Q | None:
    return param.condition(value, surgeon_sees(), NOW)


# The span of the row, and what each prefix says of 2026-03: R4, search, prefixes.
@pytest.mark.parametrize(
    ("earliest", "latest", "true"),
    [
        (date(2026, 3, 10), date(2026, 3, 10), {"eq", "ge", "le", "ap"}),
        (date(2026, 3, 1), date(2026, 3, 31), {"eq", "ge", "le", "ap"}),
        (date(2026, 1, 1), date(2026, 12, 31), {"ne", "gt", "lt", "ge", "le", "ap"}),
        (date(2026, 4, 1), date(2026, 4, 1), {"ne", "gt", "ge", "sa"}),
        (date(2026, 2, 28), date(2026, 2, 28), {"ne", "lt", "le", "eb"}),
        (date(2026, 3, 20), date(2026, 4, 20), {"ne", "gt", "ge", "ap"}),
    ],
)
def test_each_prefix_compares_spans(earliest: date, latest: date, true: set[str]) -> None:
    builders.injury(injured_earliest=earliest, injured_latest=latest)
    found = {
        prefix
        for prefix in ("eq", "ne", "gt", "lt", "ge", "le", "sa", "eb", "ap")
        if Injury.objects.filter(
            params.compared(
                prefix,
                "injured_earliest",
                "injured_latest",
                date(2026, 3, 1),
                date(2026, 3, 31),
            )
        ).exists()
    }
    assert found == true


def test_a_date_that_is_none_is_refused() -> None:
    with pytest.raises(Refused, match="no FHIR date"):
        met(params.days("performed_on"), "13/04/2026")
    with pytest.raises(Refused, match="no FHIR date"):
        params.asked("soon", NOW)


def test_a_moment_is_compared_to_the_second() -> None:
    row = builders.injury()
    param = params.moment("recorded_at")
    for value, there in (("2026-11-25T09:00:00Z", True), ("gt2026-11-25T09:00:00Z", False)):
        condition = met(param, value)
        assert condition is not None
        assert Injury.objects.filter(condition, pk=row.pk).exists() is there


@pytest.mark.parametrize(
    ("value", "there"),
    [
        ("lateral_clavicle", True),
        ("https://registry.example/CodeSystem/injury-kind|lateral_clavicle", True),
        ("https://registry.example/CodeSystem/injury-kind|", True),
        ("ac_joint", False),
    ],
)
def test_a_column_is_a_token_of_our_system(value: str, there: bool) -> None:
    builders.injury()
    condition = met(params.column_token("kind", "injury-kind"), value)
    assert condition is not None
    assert Injury.objects.filter(condition).exists() is there


def test_a_token_of_another_system_asks_nothing_at_all() -> None:
    assert met(params.column_token("kind", "injury-kind"), "http://snomed.info/sct|1") is None


def test_fixed_codes_are_all_rows_or_some() -> None:
    some = Q(side="left")
    param = params.matching_token({("s", "all"): None, ("t", "some"): some})
    assert met(param, "all") == Q()
    assert met(param, "t|some") == some
    assert met(param, "s|some") is None


@pytest.mark.parametrize("value", ["{key}", "Patient/{key}", "https://x/fhir/r4/Patient/{key}"])
def test_a_patient_is_named_by_key_or_address(value: str) -> None:
    row = builders.injury()
    condition = met(params.patient("patient__key"), value.format(key=row.patient.key))
    assert condition is not None
    assert Injury.objects.filter(condition).exists()
    assert met(params.patient("patient__key"), f"Group/{row.patient.key}") is None


def test_a_link_is_a_number_of_its_type() -> None:
    assert met(params.link("pk", "Device"), "Device/12") == Q(pk=12)
    assert met(params.link("pk", "Device"), "Procedure/12") is None
    assert met(params.link("pk", "Device"), "Device/x") is None


def numbered(value: str, param: params.Param, rows: Any) -> list[Any]:
    condition = met(param, value)
    return [] if condition is None else list(rows.filter(condition))


def test_a_number_of_another_system_finds_its_row() -> None:
    row = builders.injury()
    ForeignNumber.objects.create(site=row.site, system="urn:a", value="7", injury=row, kept_at=NOW)
    param = params.number_of("injury")
    assert numbered("urn:a|7", param, Injury.objects) == [row]
    assert numbered("7", param, Injury.objects) == [row]
    assert numbered("urn:b|7", param, Injury.objects) == []
    assert numbered("7", params.number_of("part"), Injury.objects) == []


def test_patients_are_found_by_key_number_and_name() -> None:
    person = builders.patient(family_name="Quillfeather")
    rows = type(person).objects
    number = person.identifiers.get().value
    system = "https://registry.example/identifier/north/hospital%20number"
    for value in (person.key, number, f"{system}|{number}"):
        assert numbered(value, params.patient_number(), rows) == [person]
    assert numbered(f"urn:x|{number}", params.patient_number(), rows) == []
    assert numbered("quill", params.name("family_name"), rows) == [person]
    born = params.of_identity(params.days("identity__birth_earliest", "identity__birth_latest"))
    assert numbered("1980", born, rows) == [person]


def test_names_are_not_searched_by_who_does_not_see_them() -> None:
    builders.patient(family_name="Quillfeather")
    from registry.selectors import fhir_rows  # noqa: PLC0415 - beside what it is compared with

    blind = fhir_rows.reader(builders.person("lead", north="quality_lead"))
    condition = params.name("family_name").condition("quill", blind, datetime.now(UTC))
    assert condition is not None
    assert not fhir_rows.patients(blind).filter(condition).exists()
    assert not fhir_rows.patients(blind).filter(params.named(blind)).exists()
