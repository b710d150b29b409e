import pytest

from registry.exchange.fhir import terms
from tests.fhir import valid


@pytest.fixture
def base(settings: pytest.FixtureRequest) -> None:
    settings.FHIR_BASE = "https://outcomes.hospital.test"  # type: ignore[attr-defined]


def test_our_addresses_begin_with_the_domain_of_the_service(base: None) -> None:
    assert terms.system("side") == "https://outcomes.hospital.test/CodeSystem/side"
    assert terms.extension("quantity").startswith("https://outcomes.hospital.test/Structure")


@pytest.mark.parametrize("name", sorted(terms.LOCAL_SYSTEMS))
def test_every_code_system_of_ours_is_a_whole_resource(name: str) -> None:
    made = valid(terms.code_system(terms.LOCAL_SYSTEMS[name]))
    assert made["count"] == len(made["concept"]) > 0


def test_a_code_carries_system_version_and_words() -> None:
    assert terms.local("side", "left") == {
        "system": "https://registry.example/CodeSystem/side",
        "version": "0.1.0",
        "code": "left",
        "display": "Left",
    }
    assert terms.local("neer", "IIB")["version"] == "Craig 1990"


def test_the_issuer_of_a_number_is_ours_or_its_own_and_comes_back() -> None:
    ours = terms.number_system("north", "hospital number")
    assert ours == "https://registry.example/identifier/north/hospital%20number"
    assert terms.issuing_system("north", ours) == "hospital number"
    theirs = "urn:oid:1.2.3"
    assert terms.number_system("north", theirs) == theirs
    assert terms.issuing_system("north", theirs) == theirs
