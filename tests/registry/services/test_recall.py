"""A recall among ten thousand parts, from the notice to the last of its people."""

from itertools import cycle
from typing import Any

import pytest

from registry.errors import BadInput
from registry.models import (
    Construct,
    Injury,
    NoticeCarrier,
    Part,
    Patient,
    PatientSite,
    Procedure,
    SafetyNotice,
)
from registry.models.patients import new_key
from registry.rules import batches
from registry.selectors import reconciliation
from registry.services import safety_notices
from tests import builders, many
from tests.builders import NOW, TODAY
from tests.implanted import SCREW, notice, part

pytestmark = pytest.mark.django_db
OPERATIONS, PARTS = 2000, 10_000
# How the recalled batch was typed, and how often; all else belongs to other batches.
SAME = {"LOT42A": 60, "lot 42a": 25, "Lot-42-A": 10}
NEAR = {"LOT42A21SN0042": 15, "L0T42A": 5}
MISSING = 12
OTHERS = ("LOT42B", "LOT43A", "LOT42", "XLOT42A", "4711", "lot42ab")


def typed() -> list[str]:
    """Return what stands in the field of the batch of each part, spread over the operations."""
    special = [text for text, number in (SAME | NEAR).items() for _ in range(number)]
    special += [""] * MISSING
    others = cycle(OTHERS)
    # One of them to an operation, so that each is a patient of their own.
    return [
        special[n // 5] if n % 5 == 0 and n // 5 < len(special) else next(others)
        for n in range(PARTS)
    ]


def written() -> None:
    """Write ten thousand parts, five to each of two thousand operations and patients."""
    first = part(batch="another", kind="screw", description="screw", device_identifier=SCREW)
    operation = first.construct.procedure
    injury, patient = operation.injury, operation.injury.patient
    people = many.copies(patient, OPERATIONS, key=lambda _: new_key())
    many.copies(PatientSite.objects.get(patient=patient), OPERATIONS, patient=many._each(people))
    hurt = many.copies(Injury.objects.get(pk=injury.pk), OPERATIONS, patient=many._each(people))
    done = many.copies(Procedure.objects.get(pk=operation.pk), OPERATIONS, injury=many._each(hurt))
    built = many.copies(
        Construct.objects.get(procedure=operation), OPERATIONS, procedure=many._each(done)
    )
    plate = part(operation, batch="another").implant_model
    labels = typed()
    many.copies(
        first,
        PARTS,
        construct=lambda n: built[n // 5],
        implant_model=plate,
        batch=lambda n: labels[n],
    )


def step(carrier: NoticeCarrier, name: str) -> None:
    safety_notices.take_step(
        carrier=carrier,
        step=name,
        on=TODAY,
        note="asked",
        expected_version=carrier.version,
        by=carrier.recorded_by,
        now=NOW,
    )


def close(saved: SafetyNotice) -> Any:
    return safety_notices.close_notice(
        notice=saved, site=builders.site("north"), note="", by=saved.owner, now=NOW
    )


def operations_with(texts: Any) -> set[int]:
    rows = Part.objects.filter(batch__in=list(texts), implant_model__kind="plate")
    return set(rows.values_list("construct__procedure_id", flat=True))


def test_a_recall_lists_all_its_carriers_and_closes_only_when_each_is_reconciled() -> None:
    written()
    assert Part.objects.count() >= PARTS
    saved = notice()
    found = {
        sureness: set(
            saved.carriers.filter(sureness=sureness).values_list("procedure_id", flat=True)
        )
        for sureness in ("certain", "near", "not_excluded")
    }
    assert found["certain"] == operations_with(SAME)
    assert found["near"] == operations_with(NEAR)
    assert found["not_excluded"] == operations_with([""])
    assert [len(one) for one in found.values()] == [95, 20, MISSING]
    assert {batches.folded(one) for one in SAME} == {"LOT42A"}
    ends = cycle(["reviewed", "removed", "unreachable", "declined", "died"])
    left = list(saved.carriers.order_by("pk"))
    for carrier in left[:-1]:
        if carrier.sureness == "certain":
            step(carrier, next(ends))
        else:
            step(carrier, "is_none")
    with pytest.raises(BadInput, match="1 to be"):
        close(saved)
    last = NoticeCarrier.objects.get(pk=left[-1].pk)
    if last.state == "undecided":
        step(last, "is_one")
        with pytest.raises(BadInput, match="1 to be reached"):
            close(saved)
    step(last, "reached")
    with pytest.raises(BadInput, match="1 reached"):
        close(saved)
    step(last, "reviewed")
    close(saved)
    looker = builders.person("looker", north="coordinator")
    (sums,) = reconciliation.reconciliation(looker, saved)
    assert sums.carriers == sum(sums.states.values())
    assert sums.carriers + sums.not_one == len(left)
    assert (sums.left, sums.near, sums.not_excluded, sums.difference) == (0, 0, 0, 0)
    assert Patient.objects.filter(injuries__procedures__carried__notice=saved).count() == len(left)
