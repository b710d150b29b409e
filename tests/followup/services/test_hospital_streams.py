"""Messages that come in any order, and again, end where they would have ended in their own order.

Left out is what cannot: a death that is taken back waits for a person either way; a merge of entries in
different states as well; who was missed and then booked again was missed; of two patients who are given
one time the first to come has it. And what was about nobody of ours is not kept until a merge makes it
ours. HOLDFAST_STREAMS=1000 with HOLDFAST_EXPLORE=yes draws more of them.
"""

import os
from datetime import timedelta
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from followup.models import Appointment, Review
from registry.models import HospitalMessage, Patient
from registry.models.identities import Identifier, Identity
from tests import builders, hospital
from tests.builders import TODAY

pytestmark = pytest.mark.usefixtures("defaults")
KEPT, LOST, OTHER = "kept", "lost", "other"
MINUTES = st.integers(0, 3)
WHEN = st.sampled_from([-1, 0, 2, 4, 900])


def day(offset: int, who: str) -> str:
    hour = {KEPT: "0830", OTHER: "0840"}[who]
    return f"{TODAY + timedelta(days=offset):%Y%m%d}{hour}00"


def at(minute: int) -> str:
    return f"202611250700{minute:02d}"


@st.composite
def streams(draw: st.DrawFn) -> list[tuple[str, dict[str, Any]]]:
    """Return messages in their own order: by moment, then by name."""
    of_person = st.fixed_dictionaries(
        {"who": st.sampled_from([KEPT, LOST, OTHER]), "minute": MINUTES},
        optional={
            "phone": st.sampled_from(["0555 1", "0555 2", '""']),
            "address": st.sampled_from(["Lane 1", "Lane 2"]),
        },
    )
    of_slot = st.fixed_dictionaries(
        {
            "who": st.sampled_from([KEPT, OTHER]),
            "minute": MINUTES,
            "event": st.sampled_from(["S12", "S13", "S14", "S15"]),
            "slot": st.sampled_from(["1", "2"]),
            "offset": WHEN,
        }
    )
    found = [("person", one) for one in draw(st.lists(of_person, max_size=4))]
    found += [("slot", one) for one in draw(st.lists(of_slot, max_size=5))]
    if draw(st.booleans()):
        found.append(("merge", {"minute": draw(MINUTES)}))
    if draw(st.booleans()):
        found.append(("death", {"who": OTHER, "minute": draw(MINUTES)}))
    missed = draw(st.sampled_from(["", "1"]))
    if missed:
        # Of two slots for one review that were missed and moved, which came first is what counts.
        found = [pair for pair in found if (pair[1].get("who"), pair[1].get("slot")) != (KEPT, "2")]
    named = [(kind, {**one, "control_id": f"C{n}"}) for n, (kind, one) in enumerate(found)]
    named.sort(key=lambda pair: (pair[1]["minute"], pair[1]["control_id"]))
    if missed:
        named.append(("missed", {"who": KEPT, "minute": 9, "slot": missed, "control_id": "C99"}))
    return named


def written(kind: str, said: dict[str, Any], numbers: dict[str, str]) -> bytes:
    more = {"at": at(said["minute"]), "control_id": said["control_id"]}
    if kind == "merge":
        return hospital.merge(numbers[KEPT], numbers[LOST], **more)
    number = numbers[said["who"]]
    given = {"given": "Bea", "born": "19701212"} if said["who"] == OTHER else {}
    if kind == "person":
        contacts = {name: said[name] for name in ("phone", "address") if name in said}
        return hospital.adt("A08", number, **more, **given, **contacts)
    if kind == "death":
        return hospital.adt("A08", number, **more, **given, died="20261120", dead="Y")
    event, offset = said.get("event", "S26"), said.get("offset", 0)
    filler = f"{said['who']}{said['slot']}"
    return hospital.siu(event, number, filler, day(offset, said["who"]), **more, **given)


def world() -> dict[str, str]:
    """Return the numbers of two entries of one person, one of them operated, and of another patient."""
    builders.clinic(name="Shoulder", hospital_code=hospital.CLINIC)
    kept = builders.patient(family_name="Testfamily")
    lost = builders.patient(family_name="Testfamily")
    born = {"birth_earliest": "1970-12-12", "birth_latest": "1970-12-12"}
    other = builders.patient(family_name="Testfamily", given_name="Bea")
    Identity.objects.filter(patient=other).update(**born)
    for one in (kept, other):
        builders.procedure(builders.injury(one))
    rows = {KEPT: kept, LOST: lost, OTHER: other}
    for name, one in rows.items():
        Identifier.objects.filter(patient=one).update(value=name)
    return {name: name for name in rows}


def state() -> list[Any]:
    """Return what a user would see, by numbers instead of keys."""
    names = {row.patient_id: row.value for row in Identifier.objects.all()}
    visible = Patient.objects.filter(merged_into__isnull=True).order_by("pk")
    people = Identity.objects.filter(patient__in=visible).order_by("patient_id")
    return [
        [(row.family_name, row.phone, row.address) for row in people],
        list(visible.values_list("status", "status_on")),
        sorted((names[row.patient_id], row.value) for row in Identifier.objects.all()),
        list(
            Review.objects.order_by("procedure_id", "step_id").values_list(
                "due_on", "state", "missed_count", "ended_because"
            )
        ),
        sorted(
            Appointment.objects.filter(state="booked").values_list("review__due_on", "on", "at")
        ),
    ]


def outcome_of(stream: list[tuple[str, dict[str, Any]]]) -> list[Any]:
    """Take a stream in a world of its own, and take everything back."""
    with transaction.atomic():
        numbers = world()
        for kind, said in stream:
            row = hospital.taken(written(kind, said, numbers))
            assert row.fate != "refused", row.because
        found = state()
        assert HospitalMessage.objects.count() == len({said["control_id"] for _, said in stream})
        transaction.set_rollback(True)
    return found


@settings(
    max_examples=int(os.environ.get("HOLDFAST_STREAMS", "40")),
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
def test_any_order_and_any_repetition_end_the_same(data: st.DataObject) -> None:
    stream = data.draw(streams())
    shuffled = data.draw(st.permutations(stream))
    again = data.draw(st.lists(st.sampled_from(stream), max_size=3)) if stream else []
    assert outcome_of([*shuffled, *again]) == outcome_of(stream)
