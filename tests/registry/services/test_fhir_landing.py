import pytest

from registry.errors import BadInput
from registry.exchange.fhir import transactions
from registry.services import fhir_landing
from registry.services.fhir_landing import Landed, Landing, Stands
from tests import builders
from tests.builders import NOW, TODAY
from tests.fhir_bodies import HOSPITAL, transaction

pytestmark = pytest.mark.django_db


@pytest.fixture
def landing() -> Landing:
    connie = builders.person("connie", north="coordinator")
    return Landing(connie, NOW, TODAY, builders.site("north"))


def test_a_reference_leads_into_the_transaction_first(landing: Landing) -> None:
    patient, injury, *_ = transactions.read(transaction(), today=TODAY)
    landing.by_url[patient.full_url] = Landed(patient, "the row")
    found = fhir_landing.refers(landing, injury, "urn:uuid:patient", "Patient", "subject")
    assert found == "the row"


def test_what_stands_on_a_fallen_entry_is_not_told_as_well(landing: Landing) -> None:
    patient, injury, *_ = transactions.read(transaction(), today=TODAY)
    landing.fallen.add(patient.full_url)
    with pytest.raises(Stands):
        fhir_landing.refers(landing, injury, "urn:uuid:patient", "Patient", "subject")
    assert landing.issues == []


@pytest.mark.parametrize("reference", ["", "urn:uuid:nothing", f"Patient?identifier={HOSPITAL}|x"])
def test_a_reference_to_nothing_is_told_with_its_place(landing: Landing, reference: str) -> None:
    injury = transactions.read(transaction(), today=TODAY)[1]
    with pytest.raises(Stands):
        fhir_landing.refers(landing, injury, reference, "Patient", "subject")
    assert landing.issues[0].expression == "Bundle.entry[1].resource.subject"


OURS = "https://registry.example/fhir/r4"


@pytest.mark.parametrize(
    ("full_url", "pattern", "is_ours"),
    [
        ("urn:uuid:injury", "{here}", True),
        ("", "{here}", True),
        (f"{OURS}/Condition/9", "{here}", True),
        ("urn:uuid:injury", f"{OURS}/{{here}}", True),
        ("http://h/Condition/9", f"{OURS}/{{here}}", True),
        ("http://h/Condition/9", "{here}", False),
        ("urn:uuid:injury", "http://h/{here}", False),
    ],
)
def test_a_reference_leads_to_what_is_here_by_whose_address_it_begins(
    landing: Landing, full_url: str, pattern: str, is_ours: bool
) -> None:
    row = builders.patient()
    injury = transactions.read(transaction(), today=TODAY)[1]
    injury.full_url, landing.base = full_url, OURS
    reference = pattern.format(here=f"Patient/{row.key}")
    if is_ours:
        assert fhir_landing.refers(landing, injury, reference, "Patient", "subject") == row
        return
    with pytest.raises(Stands):
        fhir_landing.refers(landing, injury, reference, "Patient", "subject")


def test_unusual_values_are_flagged_only_when_they_were_looked_at() -> None:
    assert fhir_landing.flags_of({"plate_holes": 6}, checked=False) == []
    assert fhir_landing.flags_of({"plate_holes": 20}, checked=True) == ["plate_holes"]
    with pytest.raises(BadInput, match="to keep it"):
        fhir_landing.flags_of({"plate_holes": 20}, checked=False)
    with pytest.raises(BadInput, match="not possible"):
        fhir_landing.flags_of({"plate_holes": 99}, checked=True)


def test_an_issuer_of_ours_is_named_as_the_site_does() -> None:
    ours = "https://registry.example/identifier/north/hospital%20number"
    found = fhir_landing.as_the_site_says(builders.site("north"), [(ours, "7"), (HOSPITAL, "8")])
    assert found == [("hospital number", "7"), (HOSPITAL, "8")]
