"""Projects of research: what they may hold, who is left out, and what is written down when rows leave."""

import hashlib
import io
import json
import zipfile
from datetime import date, timedelta
from typing import Any

import pandas as pd
import pytest

from analytics.models import (
    Release,
    ReleasedPopulation,
    ResearchExtract,
    ResearchKey,
    ResearchProject,
)
from analytics.rules import pseudonyms
from analytics.services import releases, research
from registry.errors import BadInput
from registry.models import Patient, Person
from registry.models.audit import AuditEntry
from registry.services import enrolment, erasure, kept_secrets, patients
from tests import builders
from tests.analytics.records import calls_its_own
from tests.builders import NOW, TODAY

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("defaults")]
GIVEN: dict[str, Any] = {
    "name": "Course of motion",
    "purpose": "How motion returns.",
    "approval": "Committee 12, 2026",
    "starts_on": TODAY - timedelta(days=30),
    "ends_on": TODAY + timedelta(days=30),
    "columns": ["cases.age_years", "cases.performed_day"],
    "dates": "shifted",
    "ages": "years",
}


@pytest.fixture(autouse=True)
def on_the_day(time_machine: Any) -> None:
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def by() -> Person:
    return builders.person("quinn", north="quality_lead")


@pytest.fixture
def people() -> list[Patient]:
    """Twelve patients of the north with an operation each."""
    return [operated() for _ in range(12)]


def operated(code: str = "north") -> Patient:
    calls_its_own(code)
    hurt = builders.injury(builders.patient(builders.site(code)))
    return builders.procedure(hurt, {"construct_type": "LP"}).injury.patient


def opened(by: Person, **other: Any) -> ResearchProject:
    sites = other.pop("sites", None) or [builders.site("north")]
    return research.open_project(sites=sites, by=by, now=NOW, **{**GIVEN, **other})


def take(project: ResearchProject, by: Person, *, in_spite: bool = False) -> research.Made:
    return research.take_extract(project=project, in_spite=in_spite, by=by, now=NOW, today=TODAY)


def file_of(made: research.Made, name: str) -> Any:
    with zipfile.ZipFile(io.BytesIO(made.content)) as archive:
        content = archive.read(name).decode()
    return json.loads(content) if name.endswith("json") else pd.read_csv(io.StringIO(content))


def decides(patient: Patient, purpose: str, decision: str) -> None:
    patients.add_consent(
        patient=patient,
        site=patient.site,
        given=enrolment.ConsentGiven(purpose, decision, TODAY, "letter", "letter", "patient"),
        by=patient.recorded_by,
        now=NOW,
        today=TODAY,
    )


def shown(made: research.Made) -> set[str]:
    return set(file_of(made, "cases.csv")["patient"])


def standing_for(project: ResearchProject, patient: Patient) -> str:
    return pseudonyms.pseudonym(research.plan_of(project).key, "patient", patient.key)


def test_an_extract_holds_the_chosen_columns_of_the_projects_sites(
    by: Person, people: list[Patient]
) -> None:
    operated("south")
    made = take(opened(by), by)
    cases = file_of(made, "cases.csv")
    assert list(cases.columns) == ["case", "patient", "site", "performed_on", "age_years"]
    assert len(cases) == 12
    with zipfile.ZipFile(io.BytesIO(made.content)) as archive:
        assert set(archive.namelist()) == {
            *("cases.csv", "dictionary.csv", "dictionary.json", "about.json")
        }


def test_who_refused_sharing_is_in_no_extract_from_then_on(
    by: Person, people: list[Patient]
) -> None:
    project = opened(by)
    before = take(project, by)
    decides(people[0], "sharing", "opted_out")
    after = take(project, by)
    assert shown(before) - shown(after) == {standing_for(project, people[0])}
    assert file_of(after, "about.json")["left_out"].startswith("1 to 7 of the operations")
    assert file_of(before, "about.json")["left_out"].startswith("none of")
    decides(people[0], "sharing", "given")
    assert shown(take(project, by)) == shown(before)


@pytest.mark.parametrize("decision", ["from_now_on", "opted_out"])
def test_who_opted_out_of_the_register_is_in_no_extract(
    by: Person, people: list[Patient], decision: str
) -> None:
    project = opened(by)
    gone = standing_for(project, people[3])
    decides(people[3], "registry", decision)
    made = take(project, by)
    assert gone not in shown(made)
    assert len(shown(made)) == 11
    assert file_of(made, "about.json")["left_out"].startswith("1 to 7")
    assert people[3].key not in str(file_of(made, "about.json"))


def test_who_was_erased_is_in_no_extract(by: Person, people: list[Patient]) -> None:
    project = opened(by)
    erasure.erase_patient(
        patient=people[2], reason="asked by letter", by=people[2].recorded_by, now=NOW, today=TODAY
    )
    assert len(shown(take(project, by))) == 11


def test_an_extract_is_written_down_in_the_ledger_the_list_and_the_trail(
    by: Person, people: list[Patient]
) -> None:
    project = opened(by)
    made = take(project, by)
    row = ResearchExtract.objects.get()
    assert (row.patients, row.by, row.left_out) == (12, by, "none")
    assert row.content_hash == hashlib.sha256(made.content).hexdigest()
    assert Release.objects.get().content_hash == row.content_hash
    assert ReleasedPopulation.objects.get().number == 12
    entry = AuditEntry.objects.filter(action="read").latest("id")
    assert (entry.table, entry.row_id) == ("analytics_researchproject", str(project.pk))
    assert entry.reason == "extract for research taken: Course of motion, Committee 12, 2026"
    assert not AuditEntry.objects.filter(table="analytics_researchkey").exists()
    again = take(project, by)
    assert again.content == made.content
    assert Release.objects.count() == 1
    assert ResearchExtract.objects.count() == 2


def test_two_projects_share_no_pseudonym_and_no_day_of_a_patient(
    by: Person, people: list[Patient]
) -> None:
    one, two = opened(by), opened(by, name="Another")
    mine, theirs = take(one, by), take(two, by)
    assert shown(mine).isdisjoint(shown(theirs))
    for column in ("case", "site"):
        cases = file_of(mine, "cases.csv"), file_of(theirs, "cases.csv")
        assert set(cases[0][column]).isdisjoint(cases[1][column])


def test_a_table_for_outside_is_held_against_the_rows_that_left(
    by: Person, people: list[Patient]
) -> None:
    decides(people[0], "sharing", "opted_out")
    take(opened(by), by)
    (members,) = ReleasedPopulation.objects.values_list("members", flat=True)
    everybody = frozenset(releases._digest(one.key) for one in people)
    assert len(everybody - set(members)) == 1
    assert releases.differencing.gives_away(everybody, [frozenset(members)])


def test_rows_near_to_what_left_before_leave_only_when_somebody_says_that_they_know(
    by: Person, people: list[Patient]
) -> None:
    project = opened(by)
    take(project, by)
    decides(people[0], "sharing", "opted_out")
    # The project itself had those rows; another did not.
    take(project, by)
    other = opened(by, name="Another")
    with pytest.raises(BadInput, match="could tell of those few") as fault:
        take(other, by)
    assert "in_spite" in fault.value.faults
    assert ResearchExtract.objects.filter(project=other).count() == 0
    assert len(shown(take(other, by, in_spite=True))) == 11


def test_so_few_patients_leave_in_no_extract(by: Person) -> None:
    for _ in range(7):
        operated()
    project = opened(by)
    with pytest.raises(BadInput, match="list of persons"):
        take(project, by)
    assert not Release.objects.exists()
    operated()
    assert len(shown(take(project, by))) == 8


@pytest.mark.parametrize(
    ("other", "field"),
    [
        ({"name": " "}, "name"),
        ({"purpose": ""}, "purpose"),
        ({"approval": ""}, "approval"),
        ({"name": "x" * 121}, "name"),
        ({"columns": []}, "columns"),
        ({"columns": ["cases.order_at_site"]}, "columns"),
        ({"columns": ["cases.family_name"]}, "columns"),
        ({"dates": "exact"}, "dates"),
        ({"ages": "exact"}, "ages"),
        ({"ends_on": date(2020, 1, 1)}, "ends_on"),
    ],
)
def test_a_project_that_cannot_be_is_refused_by_the_field(
    by: Person, other: dict[str, Any], field: str
) -> None:
    with pytest.raises(BadInput) as fault:
        opened(by, **other)
    assert list(fault.value.faults) == [field]
    assert not ResearchProject.objects.exists()


def test_data_of_another_site_go_to_no_project(by: Person) -> None:
    with pytest.raises(BadInput, match="may not take data of 1"):
        opened(by, sites=[builders.site("north"), builders.site("south")])


def test_no_extract_leaves_outside_the_days_of_its_approval(
    by: Person, people: list[Patient]
) -> None:
    past = opened(by, ends_on=TODAY - timedelta(days=1))
    with pytest.raises(BadInput, match="approval that covers today"):
        take(past, by)
    last = opened(by, ends_on=TODAY)
    assert take(last, by).row.patients == 12


def test_a_closed_project_has_no_key_and_no_further_extract(
    by: Person, people: list[Patient]
) -> None:
    project = opened(by)
    with pytest.raises(BadInput, match="Say why"):
        research.close_project(project=project, because=" ", by=by, now=NOW)
    research.close_project(project=project, because="the paper is out", by=by, now=NOW)
    assert not ResearchKey.objects.exists()
    project.refresh_from_db()
    with pytest.raises(BadInput, match="was closed: the paper is out"):
        take(project, by)
    with pytest.raises(BadInput, match="closed already"):
        research.close_project(project=project, because="again", by=by, now=NOW)


def test_a_project_whose_key_did_not_come_along_says_so(by: Person, people: list[Patient]) -> None:
    project = opened(by)
    ResearchKey.objects.all().delete()
    with pytest.raises(BadInput, match="does not come along in an archive"):
        take(project, by)


def test_a_key_is_kept_encrypted_and_renewed_with_the_services_secret(
    by: Person, settings: Any
) -> None:
    settings.SECRET_KEY = "old " * 20
    project = opened(by)
    secret = research.plan_of(project).key
    kept = ResearchKey.objects.get().kept
    assert secret.hex() not in kept
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = "new " * 20, ["old " * 20]
    assert research.renew_keys() == 1
    settings.SECRET_KEY_FALLBACKS = []
    assert research.plan_of(project).key == secret
    settings.SECRET_KEY = "third " * 20
    with pytest.raises(kept_secrets.SecretUnreadable):
        research.plan_of(project)
