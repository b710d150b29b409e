"""Everything that is held on a person: no table is forgotten, and no other person's rows are in it."""

import json
from typing import Any

import pytest
from django.apps import apps

from registry.models import Patient
from registry.selectors import held
from tests import builders, world

# What is about nobody in particular, or of whom nothing but counts and keys can be told.
ABOUT_NOBODY = {
    # Places, people of the service, and how it is set up.
    *("Site", "Person", "Membership", "ConstructType", "ImplantModel", "HospitalDoor"),
    *("Clinic", "ClosedDay", "HeldDay", "CalendarFeed", "CalendarPolicy", "ContactPolicy"),
    *("Protocol", "ProtocolVersion", "ProtocolStep", "UnionRule", "ReadingPolicy", "SavedFilter"),
    *("Questionnaire", "QuestionnaireSetup", "UrgentAdvice", "Wording", "EndpointChoice"),
    *("MessageTemplate", "MessagePolicy", "RememberedColumns", "RememberedWord"),
    *("MonitoringPolicy", "ChartDesign", "AlertMailChoice", "AlertMail"),
    # About implants and batches, not about who carries them: a carrier's rows are in it.
    *("SafetyNotice", "NoticeScope", "NoticeClosing"),
    # How people and programs of the service sign in.
    *("SignInTry", "SignInEvent", "TokenScope"),
    # Counts, meetings and what was made of figures; what of them knows keys is told in words.
    *("ReviewSum", "LoadProposal", "Meeting", "MeetingSite", "MeetingDecision", "DecisionStep"),
    *("Snapshot", "SnapshotTable", "Pack", "PackSite", "PackFile", "ChartCase"),
    *("Release", "ReleasedPopulation"),
    # Projects of research; of their extracts the trail tells.
    *("ResearchProject", "ResearchSite", "ResearchKey", "ResearchExtract"),
    # What a site rules, and what was destroyed: numbers alone.
    *("RetentionRule", "Destruction"),
    *("Signal", "SignalStep", "DataCheck"),
    # The trail itself, which is told entry by entry, and the work of the machine.
    *("AuditEntry", "ChainHead", "JobRun", "JobLock"),
    # Files on their way in or out, which go by themselves after some days.
    *("ImportBatch", "ImportDraft", "ImportFinding", "BulkExport", "BulkFile"),
}


def test_every_table_is_told_or_said_to_be_about_nobody() -> None:
    told = {model.__name__ for model in held.models_about_patients()}
    rooms = [config for config in apps.get_app_configs() if getattr(config, "is_room", False)]
    every = {model.__name__ for config in rooms for model in config.get_models()}
    assert told | ABOUT_NOBODY == every, "is it about a person or about nobody?"
    assert not told & ABOUT_NOBODY


@pytest.fixture
def things(db: None, time_machine: Any) -> dict[str, Any]:
    time_machine.move_to(builders.NOW)
    builders.load_defaults()
    world.one_of_each("south")
    return world.one_of_each("north")


@pytest.fixture
def everything(things: dict[str, Any]) -> held.Held:
    return held.held(Patient.objects.get(pk=things["patient_id"]))


def words_of(found: held.Held) -> str:
    return json.dumps(
        [[row.cells for row in table.rows] for table in found.tables], ensure_ascii=False
    )


def test_what_was_told_answered_sent_and_found_is_in_it_in_words(everything: held.Held) -> None:
    names = {table.name for table in everything.tables}
    assert {
        *("registry_identity", "registry_identifier", "registry_consent", "registry_procedure"),
        *("followup_message", "followup_answer", "followup_film", "followup_reading"),
        *("followup_letter", "followup_reply", "followup_score", "analytics_lossalert"),
        *("registry_noticecarrier", "registry_hospitalmessage", "followup_contactattempt"),
        *("registry_headeridentity", "followup_task"),
    } <= names
    said = words_of(everything)
    for told in ("Quillfeather", "Use of the data in the registry", "Fixation", "Not today"):
        assert told in said
    assert '"fixation"' not in said
    assert everything.files


def test_nothing_of_another_person_and_no_name_of_staff_is_in_it(
    everything: held.Held, things: dict[str, Any]
) -> None:
    said = words_of(everything)
    others = {
        (table.name, label)
        for table in everything.tables
        for row in table.rows
        for label, value in row.cells
        if things["other_key"] in value
    }
    assert others == set()
    assert "Zuidervaart" not in said
    assert "Everything" not in said
    assert "coordinator at North" in said
    assert "token_hash" not in said
    assert all("Everything" not in one.who for one in (*everything.trail, *everything.taken))


def test_who_saw_and_changed_it_and_where_figures_hold_it_is_told(everything: held.Held) -> None:
    acts = {one.act for one in everything.trail}
    assert {"recorded", "changed"} <= acts
    assert any("frozen copies" in line for line in everything.elsewhere)
    assert all(one.at for one in everything.trail)


def test_what_was_merged_into_a_person_is_theirs(things: dict[str, Any]) -> None:
    kept = Patient.objects.get(key=things["other_key"])
    entries = held.entries_of(kept)
    assert len(entries) == 2
    assert held.sites_of(kept) == {kept.site_id}
    rows = held.rows_about(Patient, entries)
    assert {one.pk for one in rows} == {one.pk for one in entries}
