"""Whoever opted out wholly is in nothing that comes out: every page, table, copy and pack, held against before."""

import io
import json
import re
import zipfile
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from analytics.models import ChartCase, ChartDesign, LossAlert
from analytics.selectors import monitoring
from analytics.services import loss_alerts, packs, snapshots
from followup.models import WantedReading
from followup.models.readings import ReadingPolicy
from followup.services import bulk_exports, case_export, second_readings
from registry.models import Patient, Person, Procedure
from registry.services import enrolment, patients
from tests import builders, followed, world
from tests.doors.analytics import DOORS as OF_ANALYTICS
from tests.doors.followup import DOORS as OF_FOLLOWUP
from tests.scene import ADDRESSES

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("defaults")]

USES = {"see_outcomes", "see_cases", "see_signals", "see_agreement", "see_responses", "take_data"}
DOORS = {**OF_ANALYTICS, **OF_FOLLOWUP}
# Records of what was: they stay as they are, and say when they were made.
RECORDS = {"pack", "pack-pages", "pack-tables", "packs", "snapshots", "signals-history", "meetings"}
QUERIES = ("", "?definition=rise-3mm", "?definition=rise-3mm&for=outside", "?table=flow")
FILES = (".csv", ".xlsx")
# What tells of the withdrawal itself, and of the moment.
TOLD = re.compile(
    r"<p>\d+ operations? at these sites .*?</p>|<p>\d+ withdrew from the register.*?</p>"
    r"|\d+ of patients who opted out[^\n,<]*|\d+ withdrew from the register[^\n.<]*\.? ?"
    r"|all,before,withdrew from the register,\d+\r?\n"
    # Curves by resampling are kept where they were asked for once, and shown at once where not needed.
    r'|<h2 id="timing">.*?<h2 id="definitions">|<script id="chart".*?</script>|\d+ places? stands? empty:.*?its number\.'
    r"|<dt>Made</dt>[^\n]*|hx-headers=[^>]*>|From the snapshot of .*? nothing has changed since"
    r'|csrfmiddlewaretoken" value="[^"]*"|nonce="[^"]*"|nonce-[^\' ]*'
    r"|snapshot_taken,[^\n]*|\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[^\s,<]*",
    re.DOTALL,
)
KINDS = ["Patient", "Condition", "Procedure", "Device", "ImagingStudy", "Observation"]
KINDS += ["AdverseEvent", "CarePlan", "Task", "Appointment", "QuestionnaireResponse"]


@pytest.fixture
def things() -> Any:
    with time_machine.travel(builders.NOW, tick=False):
        found = world.one_of_each("north")
        # Somebody to choose among the surgeons, whether or not they have a patient.
        builders.person("recorder", north="coordinator+surgeon")
        yield found


def addresses(things: dict[str, Any]) -> list[str]:
    found = []
    for name, door in DOORS.items():
        if door.opens not in USES or name in RECORDS:
            continue
        for names in door.of:
            given = {
                part: names.get(part, part)[1:]
                if names.get(part, part).startswith("=")
                else things[names.get(part, part)]
                for part in ADDRESSES[name]
            }
            found.append(reverse(name, kwargs=given))
    return found


def outputs(things: dict[str, Any], by: Person) -> dict[str, str]:
    """Return everything that is shown or taken of many patients, but for what tells of a withdrawal."""
    client = Client()
    client.force_login(by)
    found = {}
    for address in addresses(things):
        for query in QUERIES if "csv" in address else QUERIES[:1]:
            answer = client.get(address + query)
            text = answer.content.decode("utf-8", "replace")
            found[address + query] = f"{answer.status_code} {TOLD.sub('', text)}"
    found |= _copies(client, by)
    return found


def _copies(client: Client, by: Person) -> dict[str, str]:
    site = builders.site("north")
    told = io.StringIO()
    call_command("rates", "--site", "north", "--definition", "rise-3mm", stdout=told)
    rates = client.get("/api/v1/rates/?definition=rise-3mm")
    sent = client.post("/outcomes/dataset/", {"kind": "csv"})
    with zipfile.ZipFile(io.BytesIO(sent.content)) as packed:
        lines = {
            name: packed.read(name).count(b"\n") for name in packed.namelist() if "csv" in name
        }
    pack = packs.ask(
        sites=[site], address="definition=rise-3mm", for_outside=False, by=by, now=timezone.now()
    )
    packs.make_waiting(now=timezone.now(), today=timezone.localdate())
    pack.refresh_from_db()
    assert pack.state == "ready", pack.reason
    with zipfile.ZipFile(io.BytesIO(packs.content_of(pack, "tables"))) as archive:
        tables = {
            name: TOLD.sub("", archive.read(name).decode("utf-8", "replace"))
            for name in archive.namelist()
            if name.endswith(".csv")
        }
    export = bulk_exports.ask(types=KINDS, since=None, request="", by=by, now=timezone.now())
    bulk_exports.make_waiting(now=timezone.now())
    export.refresh_from_db()
    assert export.state == "ready", export.fault
    resources = {}
    for kind in KINDS:
        file = bulk_exports.open_file(
            export=export, kind=kind, is_error=False, by=by, now=timezone.now()
        )
        if file is not None:
            with file:
                resources[kind] = file.read().decode()
    written = case_export.Written()
    cases = "".join(case_export.lines(site, written, case_export.named))
    design = ChartDesign.objects.filter(site=site).first()
    chart = monitoring.case_lines(rows := monitoring.rows_of(design), monitoring.read(design, rows))
    return {
        "rates": TOLD.sub("", told.getvalue()),
        "api": TOLD.sub("", rates.content.decode()),
        "data set": json.dumps(lines),
        "pack": json.dumps(tables),
        **{f"FHIR {kind}": text for kind, text in resources.items()},
        "cases": cases,
        "chart": json.dumps(chart, default=str),
    }


def decide(patient: Patient, decision: str) -> None:
    patients.add_consent(
        patient=patient,
        site=patient.site,
        given=enrolment.ConsentGiven(
            "registry", decision, builders.TODAY, "letter", "letter", "patient"
        ),
        by=patient.recorded_by,
        now=timezone.now(),
        today=builders.TODAY,
    )


def in_chart(design: ChartDesign, procedure: Procedure) -> None:
    """Let a case stand in the middle of a chart, where every later sum hangs on it."""
    ChartCase.objects.create(
        design=design,
        position=design.cases.count(),
        case_id=procedure.pk,
        performed_on=procedure.performed_on,
        outcome=True,
        expected=0.2,
        entered_on=builders.TODAY,
    )


def test_who_withdrew_wholly_is_in_no_output_and_changes_no_count(things: Any) -> None:
    by = Person.objects.get(username="north_everything")
    before = outputs(things, by)
    followed.followed(1)
    patient = Patient.objects.latest("pk")
    operation = Procedure.objects.get(injury__patient=patient)
    design = ChartDesign.objects.filter(site=operation.site).first()
    assert design is not None
    in_chart(design, operation)
    with time_machine.travel(builders.NOW + timedelta(minutes=1), tick=False):
        there = outputs(things, by)
    shown = {name for name, text in there.items() if patient.key in text}
    assert {"FHIR Patient", "FHIR Procedure"} <= shown, "the walk would not see them"
    assert any("cases" in name for name in shown)
    assert sum(there[name] != text for name, text in before.items()) > 20

    decide(patient, "opted_out")
    with time_machine.travel(builders.NOW + timedelta(minutes=2), tick=False):
        after = outputs(things, by)
    assert [name for name, text in after.items() if patient.key in text] == []
    other = {name for name, text in after.items() if text != before[name]}
    assert other == set()
    assert snapshots.newest().row_counts["opted_out"] == {"north": 1}

    decide(patient, "given")
    back = snapshots.current(now=timezone.now(), today=builders.TODAY)
    assert patient.key in set(snapshots.frames_of(back).cases["patient_key"])


def test_no_warning_is_given_of_who_withdrew_and_nothing_is_read_for_agreement(things: Any) -> None:
    alert = LossAlert.objects.get(pk=things["alert_id"])
    patient = alert.procedure.injury.patient
    ReadingPolicy.objects.create(site=patient.site, draw="all")
    second_readings.draw_all(by=patient.recorded_by, now=builders.NOW)
    wanted = WantedReading.objects.filter(film__injury__patient=patient, state="wanted")
    assert wanted.exists()
    decide(patient, "opted_out")
    loss_alerts.weigh_marked(now=builders.NOW, today=builders.TODAY)
    alert.refresh_from_db()
    assert alert.state == "taken_back"
    second_readings.draw_all(by=patient.recorded_by, now=builders.NOW)
    assert not wanted.exists()


def test_a_snapshot_and_a_pack_of_before_stay_as_they_are(things: Any) -> None:
    by = Person.objects.get(username="north_everything")
    kept = snapshots.current(now=builders.NOW, today=builders.TODAY)
    key = things["key"]
    decide(Patient.objects.get(key=key), "opted_out")
    assert key in set(snapshots.frames_of(kept).cases["patient_key"])
    fresh = snapshots.current(now=builders.NOW, today=builders.TODAY)
    assert key not in set(snapshots.frames_of(fresh).cases["patient_key"])
    client = Client()
    client.force_login(by)
    said = client.get("/outcomes/?definition=rise-3mm").content.decode()
    assert "A snapshot or pack that was made before stays as it is." in said
    flow = client.get("/outcomes/following/?definition=rise-3mm").content.decode()
    assert "1 withdrew from the register" in flow
