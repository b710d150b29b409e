import pytest

from registry.exchange.fhir import standing
from registry.models import Part
from registry.services import implants
from tests import builders
from tests.builders import NOW
from tests.fhir import valid

pytestmark = pytest.mark.django_db


def test_each_row_stands_as_the_resource_that_is_read() -> None:
    operation = builders.procedure()
    by = operation.recorded_by
    implants.add_part(
        construct=operation.construct,
        given=implants.PartGiven("plate", "plate"),
        by=by,
        now=NOW,
    )
    rows = {
        "Patient": operation.injury.patient,
        "Condition": operation.injury,
        "Procedure": operation,
        "Device": Part.objects.get(),
    }
    for kind, row in rows.items():
        made = valid(standing.resource_of(kind, row, by))
        assert made["resourceType"] == kind
        assert standing.version_of(kind, row, by) == made["meta"]["versionId"]


def test_a_row_that_is_not_seen_is_not_written() -> None:
    row = builders.injury(builders.patient(builders.site("south")))
    with pytest.raises(type(row).DoesNotExist):
        standing.resource_of("Condition", row, builders.person("connie", north="coordinator"))
