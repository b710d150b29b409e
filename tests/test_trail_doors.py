"""By each door one write: all that it changes is in the trail under whoever came in, and can be sealed."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from followup.models import Review
from followup.tasks import planning as planning_tasks
from registry.models import AuditEntry, Injury, Patient, PatientMerge, Person, RecordMove
from registry.services import audit, triggers
from registry.services.background import background_person
from tests import builders, fhir_bodies, hospital, trailed
from tests.api import signed_in
from tests.builders import NOW
from tests.followup import case_files, sent_files

pytestmark = pytest.mark.usefixtures("defaults")
# Makes ready what a door's write is about, and returns the write itself.
Prepare = Callable[[Person], Callable[[], None]]


@pytest.fixture(autouse=True)
def on_the_day(time_machine: Any, settings: Any, tmp_path: Any) -> None:
    time_machine.move_to(NOW)
    settings.MEDIA_ROOT = tmp_path


def signed(by: Person) -> Client:
    client = Client()
    client.force_login(by)
    return client


def sent(by: Person, address: str, **body: Any) -> None:
    answer = signed(by).post(address, body)
    assert answer.status_code == 302, answer.content.decode()[:2000]


def two() -> tuple[Injury, Patient]:
    return builders.procedure(builders.injury()).injury, builders.patient()


def pair() -> tuple[Patient, Patient]:
    return tuple(builders.patient(family_name="Invented") for _ in range(2))  # type: ignore[return-value]


def merged() -> PatientMerge:
    one, other = pair()
    sent(
        builders.person("earlier", north="coordinator"),
        f"{reverse('duplicates-merge')}?one={one.key}&other={other.key}",
        **{"kept": one.key, "reason": "same passport"},
        **{f"version-{each.key}": each.version for each in (one, other)},
    )
    return PatientMerge.objects.get()


def moved() -> RecordMove:
    injury, to = two()
    sent(
        builders.person("earlier", north="coordinator"),
        f"{reverse('injury-move', args=[injury.pk])}?to={to.key}",
        **{"version": injury.version, "to_version": to.version, "reason": "the other card"},
    )
    return RecordMove.objects.get()


def by_page(by: Person) -> Callable[[], None]:
    injury = builders.injury()
    return lambda: sent(
        by,
        reverse("injury-correct", args=[injury.pk]),
        **{"version": "1", "kind": "lateral_clavicle", "side": "left", "reason": "read the note"},
        **{"injury_date": "2026-06-01", "energy": "high"},
    )


def by_program(by: Person) -> Callable[[], None]:
    injury = builders.injury()

    def act() -> None:
        url = f"/api/v1/injuries/{injury.pk}/"
        answer = signed_in(by).change(url, {"energy": "high", "reason": "read the note"})
        assert answer.status_code == 200, answer.content

    return act


def by_file(by: Person) -> Callable[[], None]:
    draft = sent_files.sent_ours(case_files.case(1))
    assert by == sent_files.connie()
    return lambda: sent_files.landed(draft) and None


def by_fhir(by: Person) -> Callable[[], None]:
    def act() -> None:
        body = json.dumps(fhir_bodies.transaction())
        answer = signed(by).post("/fhir/r4/", body, content_type="application/fhir+json")
        assert answer.status_code == 200, answer.content

    return act


def by_hl7(by: Person) -> Callable[[], None]:
    number = hospital.number_of(builders.patient())
    hospital.door()
    return lambda: hospital.taken(hospital.adt("A08", number, family="Otherwise")) and None


def by_setup(by: Person) -> Callable[[], None]:
    site = builders.site()
    return lambda: sent(
        by,
        reverse("setup-retention-rule", args=[site.pk, "replies"]),
        **{"keep": "90", "basis": "the policy of the department", "version": "0"},
    )


def by_command(by: Person) -> Callable[[], None]:
    patient = builders.patient()
    given = {"reason": "asked in writing", "by": by.username, "yes": True}
    return lambda: call_command("erase_patient", patient.key, **given)


def by_worker(by: Person) -> Callable[[], None]:
    builders.procedure()
    Review.objects.all().delete()
    return lambda: planning_tasks.sweep() and None


def by_merge(by: Person) -> Callable[[], None]:
    one, other = pair()
    return lambda: sent(
        by,
        f"{reverse('duplicates-merge')}?one={one.key}&other={other.key}",
        **{"kept": one.key, "reason": "same passport"},
        **{f"version-{each.key}": each.version for each in (one, other)},
    )


def by_undoing_a_merge(by: Person) -> Callable[[], None]:
    merge = merged()
    return lambda: sent(by, reverse("duplicates-undo", args=[merge.pk]))


def by_move(by: Person) -> Callable[[], None]:
    injury, to = two()
    return lambda: sent(
        by,
        f"{reverse('injury-move', args=[injury.pk])}?to={to.key}",
        **{"version": injury.version, "to_version": to.version, "reason": "the other card"},
    )


def by_undoing_a_move(by: Person) -> Callable[[], None]:
    move = moved()
    return lambda: sent(by, reverse("moves-undo", args=[move.pk]))


# Each door, which table it must have changed, and whether the service itself acts there.
DOORS: dict[str, tuple[Prepare, str, bool]] = {
    "page": (by_page, "registry_injury", False),
    "program": (by_program, "registry_injury", False),
    "file of cases": (by_file, "registry_procedure", False),
    "FHIR": (by_fhir, "registry_part", False),
    "HL7": (by_hl7, "registry_identity", True),
    "setup": (by_setup, "registry_retentionrule", False),
    "command": (by_command, "registry_identifier", False),
    "worker": (by_worker, "followup_review", True),
    "merge": (by_merge, "registry_patientmerge", False),
    "undoing a merge": (by_undoing_a_merge, "registry_patientmerge", False),
    "move": (by_move, "registry_recordmove", False),
    "undoing a move": (by_undoing_a_move, "registry_recordmove", False),
}


@pytest.mark.parametrize("door", DOORS)
def test_all_that_a_door_changes_is_in_the_trail_under_whoever_came_in(door: str) -> None:
    prepare, table, by_itself = DOORS[door]
    by = builders.person("connie", north="coordinator+surgeon+administrator")
    itself = background_person()
    act = prepare(by)
    audit.seal_all()
    begun = trailed.last_entry()
    act()
    written = AuditEntry.objects.filter(pk__gt=begun).exclude(action="read")
    watched = {model._meta.db_table for model in triggers.audited_models()}
    changes = [one for one in written if one.table in watched]
    assert table in {one.table for one in changes}
    who = {one.person_id for one in changes}
    assert who == {itself.pk if by_itself else by.pk}, [str(one) for one in changes]
    assert trailed.holds()
    if door not in {"file of cases", "FHIR", "worker"}:
        assert any(one.reason for one in changes)
