from typing import Any

import pytest

from registry.exchange.fhir import transactions
from registry.rules.fhir.outcomes import Refused
from tests.builders import TODAY
from tests.fhir_bodies import PATIENT, entry, transaction


def refused(bundle: Any) -> dict[str, str]:
    with pytest.raises(Refused) as fault:
        transactions.read(bundle, today=TODAY)
    return {one.expression: one.words for one in fault.value.issues}


def of(*entries: Any, **more: Any) -> dict[str, Any]:
    return {"resourceType": "Bundle", "type": "transaction", "entry": list(entries), **more}


def test_entries_are_read_in_their_order_with_what_was_not_kept() -> None:
    bundle = transaction(patient={"maritalStatus": {"text": "x"}})
    found = transactions.read(bundle, today=TODAY)
    assert [one.kind for one in found] == ["Patient", "Condition", "Procedure", "Device"]
    assert [one.expression for one in found[0].warnings] == [
        "Bundle.entry[0].resource.maritalStatus"
    ]
    assert found[1].warnings == []
    assert transactions.read(of(), today=TODAY) == []


@pytest.mark.parametrize(
    ("bundle", "place"),
    [
        ([], "Bundle"),
        ({"resourceType": "Patient"}, "Bundle"),
        ({"resourceType": "Bundle", "type": "batch"}, "Bundle.type"),
        (of("x"), "Bundle.entry"),
        (of({"request": {}}), "Bundle.entry[0].resource"),
        (of({"resource": PATIENT}), "Bundle.entry[0].request"),
        (of(entry(PATIENT, method="DELETE")), "Bundle.entry[0].request.method"),
        (
            of({**entry(PATIENT), "request": {"method": "POST", "url": "Device"}}),
            "Bundle.entry[0].request.url",
        ),
        (of(entry(PATIENT, ifNoneExist="name=x")), "Bundle.entry[0].request.ifNoneExist"),
        (of(entry(PATIENT, ifNoneExist="identifier=a|b")), "Bundle.entry[0].request"),
        (of(entry(PATIENT), entry(PATIENT)), "Bundle.entry.fullUrl"),
    ],
)
def test_what_is_no_transaction_is_refused_with_its_place(bundle: Any, place: str) -> None:
    told = refused(bundle)
    assert place in told, told


def test_too_many_entries_are_refused_before_they_are_read() -> None:
    with pytest.raises(Refused) as fault:
        transactions.read(of(*[{}] * (transactions.MOST_ENTRIES + 1)), today=TODAY)
    assert fault.value.status == 413


def test_an_update_by_our_own_id_is_refused_for_one_by_number() -> None:
    made = entry(PATIENT, method="PUT")
    made["request"]["url"] = "Patient/ABC"
    assert "identifier=system|value" in refused(of(made))["Bundle.entry[0].request.url"]


@pytest.mark.parametrize(
    ("condition", "number"),
    [
        ("identifier=urn:a|7", ("urn:a", "7")),
        ("Patient?identifier=urn%3Aa%7C7", ("urn:a", "7")),
        ("identifier=urn:a|7?x", ("urn:a", "7?x")),
        ("identifier=7", None),
        ("identifier=urn:a|7&name=x", None),
        ("name=x", None),
    ],
)
def test_a_condition_is_a_number_with_its_system(condition: str, number: Any) -> None:
    assert transactions.number_of(condition) == number


def test_a_resource_with_too_long_a_list_or_the_sign_nul_is_refused_before_it_is_read() -> None:
    many = {**PATIENT, "identifier": [{"system": "a", "value": str(one)} for one in range(51)]}
    told = refused(of(entry(many)))
    assert "at most 50" in told["Bundle.entry[0].resource.identifier"]
    told = refused(of(entry({**PATIENT, "gender": "female\x00"})))
    assert "NUL" in told["Bundle.entry[0].resource.gender"]
    assert transactions.number_of("identifier=a|b%00") is None


@pytest.mark.parametrize(
    ("full_url", "reference", "meant"),
    [
        ("http://h/fhir/Condition/9", "Patient/1", "http://h/fhir/Patient/1"),
        ("http://h/Condition/9/_history/2", "Patient/1", "http://h/Patient/1"),
        ("http://h/Condition/9", "https://x/Patient/1", "https://x/Patient/1"),
        ("http://h/Condition/9", "urn:uuid:a", "urn:uuid:a"),
        ("http://h/Condition/9", "Patient?identifier=a|b/c", "Patient?identifier=a|b/c"),
        ("http://h/Condition/9", "", ""),
        ("urn:uuid:b", "Patient/1", "Patient/1"),
        ("", "Patient/1", "Patient/1"),
    ],
)
def test_a_relative_reference_begins_where_its_entry_does(
    full_url: str, reference: str, meant: str
) -> None:
    (found,) = transactions.read(of(entry(PATIENT)), today=TODAY)
    found.full_url = full_url
    assert transactions.resolved(found, reference) == meant
