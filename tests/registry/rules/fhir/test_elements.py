from registry.rules.fhir import elements


def test_what_is_empty_is_left_out_and_zero_stays() -> None:
    given = {"a": "", "b": None, "c": [], "d": {}, "e": 0, "f": False, "g": "x"}
    assert elements.compact(given) == {"e": 0, "f": False, "g": "x"}


def test_a_quantity_has_its_unit_by_ucum() -> None:
    assert elements.quantity(120, "deg") == {
        "value": 120.0,
        "unit": "deg",
        "system": "http://unitsofmeasure.org",
        "code": "deg",
    }


def test_each_kind_of_missing_is_another_reason() -> None:
    assert elements.ABSENT == {
        "unknown": "unknown",
        "not_done": "not-performed",
        "not_applicable": "not-applicable",
        "declined": "asked-declined",
    }
    assert (
        len({elements.absent(code)["coding"][0]["display"] for code in elements.ABSENT.values()})
        == 4
    )


def test_a_reason_written_into_an_element_is_read_again() -> None:
    assert elements.absent_code(elements.absent_here(elements.MASKED)) == "masked"
    assert elements.absent_code({"extension": [{"url": "other"}]}) == ""
    assert elements.absent_code(None) == ""


def test_references_and_concepts_say_what_they_mean() -> None:
    assert elements.reference("Patient", "K") == {"reference": "Patient/K"}
    assert elements.named("s", "v") == {"identifier": {"system": "s", "value": "v"}}
    assert elements.concept(elements.coding("s", "c"), text="t") == {
        "coding": [{"system": "s", "code": "c"}],
        "text": "t",
    }
