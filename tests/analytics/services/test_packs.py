"""A pack: asked for once, made by the worker from one snapshot, and the same when made again."""

import csv
import io
import json
import zipfile
from typing import Any

import pytest
from django.db.models import ProtectedError
from pypdf import PdfReader

from analytics.models import Pack, PackFile, Snapshot
from analytics.models.packs import FileKind
from analytics.services import packs, snapshots
from registry.errors import BadInput, IllegalTransition
from registry.models import Membership, Person, Procedure
from registry.services import audit, jobs
from tests import builders
from tests.analytics.monitored import policy
from tests.analytics.records import complication, held, lost
from tests.analytics.services.test_meetings import became, decided, met
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture
def cases(defaults: None) -> None:
    for _ in range(6):
        held()
    complication(lost(construct="HP"), 40, "stiffness")
    lost("south")


def asked(by: Person, **values: Any) -> Pack:
    given = {"address": "horizon=12m", "for_outside": False, "now": NOW, **values}
    sites = given.pop("sites", None) or [builders.site("north")]
    return packs.ask(sites=sites, by=by, **given)


def made(pack: Pack) -> Pack:
    packs.make_waiting(now=NOW, today=TODAY)
    pack.refresh_from_db()
    return pack


def hashes(pack: Pack) -> dict[str, str]:
    return dict(pack.files.values_list("kind", "content_hash"))


def tables_of(pack: Pack) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(packs.content_of(pack, FileKind.TABLES))) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


@pytest.mark.usefixtures("cases")
def test_a_pack_is_made_with_pages_tables_and_sections(quality_lead: Person) -> None:
    pack = made(asked(quality_lead))
    assert (pack.state, pack.reason, pack.made_at) == ("ready", "", NOW)
    assert pack.sections_done == pack.sections_all > 0
    reader = PdfReader(io.BytesIO(packs.content_of(pack, FileKind.PDF)))
    text = " ".join(" ".join(page.extract_text().split()) for page in reader.pages)
    assert len(reader.pages) >= 3
    document = json.loads(packs.content_of(pack, FileKind.DOCUMENT))
    for section in document["sections"]:
        assert section["title"] in text
        for one in (*section["tables"], *section["figures"]):
            assert one["caption"][:30] in text
    assert "nan" not in text.split()
    assert pack.snapshot is not None
    assert pack.snapshot.content_hash in text
    assert "HP: Hook plate; LP: Locking plate alone." in text


@pytest.mark.usefixtures("cases")
def test_it_counts_the_cases_of_its_sites_alone(quality_lead: Person) -> None:
    pack = made(asked(quality_lead))
    with zipfile.ZipFile(io.BytesIO(packs.content_of(pack, FileKind.TABLES))) as archive:
        lines = archive.read("held.csv").decode().splitlines()
    assert lines[-1].startswith("all,7,7,7,1,")
    assert any(line.startswith("# snapshot,") for line in lines)


@pytest.mark.usefixtures("cases")
def test_two_packs_from_one_snapshot_have_the_same_bytes(quality_lead: Person) -> None:
    one = made(asked(quality_lead))
    two = made(asked(quality_lead))
    assert one.pk != two.pk
    assert one.snapshot == two.snapshot
    assert hashes(one) == hashes(two)
    files = tables_of(one)
    assert files == tables_of(two)
    # Those of every question, those that no page prints among them.
    assert {
        *("held.csv", "held-when.csv", "rules.csv", "united.csv", "burden.csv"),
        *("hardware.csv", "following.csv", "following-flow.csv", "tipping.csv", "balance-lost.csv"),
        *("checks.csv", "enough.csv", "literature-union.csv"),
    } <= set(files)


@pytest.mark.usefixtures("cases")
def test_what_a_worker_left_half_made_is_made_from_the_same_snapshot(
    quality_lead: Person,
) -> None:
    whole = hashes(made(asked(quality_lead)))
    taken = Snapshot.objects.get()
    pack = asked(quality_lead)
    Pack.objects.filter(pk=pack.pk).update(state="being_made", snapshot=taken, sections_done=1)
    lost()
    snapshots.refresh(now=NOW, today=TODAY)
    assert hashes(made(pack)) == whole
    assert pack.snapshot == taken


@pytest.mark.usefixtures("cases")
def test_making_twice_changes_nothing(quality_lead: Person) -> None:
    pack = made(asked(quality_lead))
    before = list(PackFile.objects.order_by("pk").values())
    assert packs.make_waiting(now=NOW, today=TODAY) == {"packs made": 0, "failed": 0}
    assert list(PackFile.objects.order_by("pk").values()) == before
    assert made(pack).state == "ready"


def test_the_same_pack_that_still_waits_is_not_asked_for_twice(quality_lead: Person) -> None:
    one = asked(quality_lead)
    assert asked(quality_lead) == one
    assert asked(quality_lead, for_outside=True) != one
    assert asked(quality_lead, address="horizon=6m") != one


@pytest.mark.parametrize(
    ("address", "words"),
    [("horizon=9m", "'9m' is not one of"), ("site=south", "'south' is none of your sites")],
)
def test_an_address_that_cannot_be_read_is_refused(
    quality_lead: Person, address: str, words: str
) -> None:
    with pytest.raises(BadInput, match=words):
        asked(quality_lead, address=address)
    assert not Pack.objects.exists()


def test_a_pack_of_one_site_of_several_belongs_to_that_site(quality_lead: Person) -> None:
    sites = [builders.site("north"), builders.site("south")]
    pack = asked(quality_lead, sites=sites, address="site=south")
    assert [site.code for site in pack.sites.all()] == ["south"]


@pytest.mark.usefixtures("cases")
def test_whose_rights_have_ended_gets_no_pack_and_the_next_is_made(
    quality_lead: Person, surgeon: Person
) -> None:
    late, good = asked(quality_lead), asked(surgeon)
    Membership.objects.filter(person=quality_lead).update(ends_on="2026-01-01")
    assert packs.make_waiting(now=NOW, today=TODAY) == {"packs made": 1, "failed": 1}
    late.refresh_from_db()
    assert late.state == "failed"
    assert "may not see figures of North Hospital now" in late.reason
    assert made(good).state == "ready"


@pytest.mark.usefixtures("cases")
def test_an_unexpected_fault_is_told_without_what_it_carries(
    quality_lead: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*args: Any) -> bytes:
        raise RuntimeError("the patient Quillfeather")

    monkeypatch.setattr(packs, "pdf_of", broken)
    pack = made(asked(quality_lead))
    assert pack.state == "failed"
    assert "RuntimeError" in pack.reason
    assert "Quillfeather" not in pack.reason
    assert not PackFile.objects.exists()
    monkeypatch.undo()
    packs.ask_again(pack=pack, by=quality_lead)
    assert made(pack).state == "ready"


def test_only_what_failed_is_asked_for_again(quality_lead: Person) -> None:
    with pytest.raises(IllegalTransition, match="'asked'"):
        packs.ask_again(pack=asked(quality_lead), by=quality_lead)


@pytest.mark.usefixtures("cases")
def test_the_last_decisions_come_first(quality_lead: Person) -> None:
    became(decided(met(quality_lead), quality_lead), "done", quality_lead, words="they do")
    pack = made(asked(quality_lead))
    first = json.loads(packs.content_of(pack, FileKind.DOCUMENT))["sections"][0]
    assert first["key"] == "actions"
    assert first["tables"][0]["rows"][0][-1] == "Done: they do"


@pytest.mark.usefixtures("cases")
def test_a_file_that_was_changed_is_not_handed_out(quality_lead: Person) -> None:
    pack = made(asked(quality_lead))
    PackFile.objects.filter(kind="pdf").update(content=b"%PDF-1.7 other")
    with pytest.raises(ValueError, match="was changed after it was made"):
        packs.content_of(pack, FileKind.PDF)


def test_a_pack_that_is_not_ready_has_no_file(quality_lead: Person) -> None:
    with pytest.raises(BadInput, match="not ready"):
        packs.content_of(asked(quality_lead), FileKind.PDF)


@pytest.mark.usefixtures("cases")
def test_a_snapshot_stays_as_long_as_a_pack_was_made_from_it(quality_lead: Person) -> None:
    pack = made(asked(quality_lead))
    taken = Snapshot.objects.get()
    assert taken.kept_for == [f"pack {pack.pk}"]
    with pytest.raises(ProtectedError):
        taken.delete()


def test_where_no_definition_was_chosen_the_pack_says_so(quality_lead: Person) -> None:
    builders.procedure()
    document = json.loads(packs.content_of(made(asked(quality_lead)), FileKind.DOCUMENT))
    sections = {one["key"]: one for one in document["sections"]}
    assert "No primary definition is chosen" in sections["held"]["sentence"]
    assert sections["held"]["tables"] == []
    assert sections["rules"]["tables"]


@pytest.mark.usefixtures("cases")
def test_a_pack_for_outside_holds_no_small_number_no_figure_and_no_decision(
    quality_lead: Person,
) -> None:
    decided(met(quality_lead), quality_lead, words="Between ourselves.")
    pack = made(asked(quality_lead, for_outside=True))
    assert (pack.state, pack.reason) == ("ready", "")
    text = packs.content_of(pack, FileKind.DOCUMENT).decode()
    document = json.loads(text)
    assert [one["key"] for one in document["sections"]] == [
        *("held", "rules", "united", "not-united", "late-united"),
        *("harms", "burden", "hardware", "following"),
    ]
    assert not any(one["figures"] for one in document["sections"])
    assert "Between ourselves" not in text
    assert "small numbers hidden" in document["outside"]
    with zipfile.ZipFile(io.BytesIO(packs.content_of(pack, FileKind.TABLES))) as archive:
        lines = archive.read("held.csv").decode().splitlines()
    assert not any(line.startswith("# left_out") for line in lines)
    # Seven operations and one event are small numbers.
    assert next(line for line in lines if line.startswith("all,")).startswith("all,*,*,*,*,0,0,")


@pytest.mark.usefixtures("cases")
def test_no_table_for_outside_has_a_small_number_or_tells_one_that_another_hides(
    quality_lead: Person,
) -> None:
    for _ in range(20):
        held()
    pack = made(asked(quality_lead, for_outside=True))
    told: dict[tuple[str, str], set[str]] = {}
    with zipfile.ZipFile(io.BytesIO(packs.content_of(pack, FileKind.TABLES))) as archive:
        names = archive.namelist()
        for name in names:
            lines = archive.read(name).decode().splitlines()
            rows = list(
                csv.DictReader(line for line in lines if not line.startswith(("# ", '"# ')))
            )
            for row in rows:
                counts = {k: v for k, v in row.items() if v.isdigit() and k != "version"}
                assert all(int(v) % 5 == 0 for v in counts.values()), (name, row)
                told.setdefault((row["group"], "operated"), set()).add(row["operated"])
    assert {"burden.csv", "hardware.csv", "following.csv", "rules.csv"} <= set(names)
    assert not {"balance-lost.csv", "tipping.csv", "enough.csv", "funnels.csv"} & set(names)
    # One of hook plates: hidden wherever it stands, as is what would give it away.
    assert told["HP", "operated"] == {"*"}
    assert told["LP", "operated"] == {"*"}
    text = packs.content_of(pack, FileKind.DOCUMENT).decode()
    assert "Left out" not in text


@pytest.fixture
def watched(surgeon: Person) -> list[Person]:
    """Let three surgeons of the north operate twelve times each, one of them losing four."""
    policy(builders.site("north"))
    people = [
        surgeon,
        builders.person("bob", north="surgeon"),
        builders.person("cleo", north="surgeon"),
    ]
    for one in people:
        for number in range(12):
            done = (lost if number % 3 == 0 and one is surgeon else held)()
            Procedure.objects.filter(pk=done.pk).update(surgeon=one)
    return people


@pytest.mark.usefixtures("watched")
def test_points_of_surgeons_are_in_the_files_of_those_who_may_see_them_alone(
    quality_lead: Person,
) -> None:
    pack = made(asked(quality_lead))
    assert (pack.state, pack.reason, pack.surgeons) == ("ready", "", "all")
    named = packs.content_of(pack, FileKind.DOCUMENT_NAMED).decode()
    common = packs.content_of(pack, FileKind.DOCUMENT).decode()
    assert "Bob" in named
    assert "Bob" not in common
    assert "Cleo" not in common
    assert "Surgeons are shown in this pack only to those" in common
    files = {}
    for kind in (FileKind.TABLES, FileKind.TABLES_NAMED):
        with zipfile.ZipFile(io.BytesIO(packs.content_of(pack, kind))) as archive:
            files[kind] = archive.namelist()
    surgeons = "funnels-loss-of-reduction-surgeons.csv"
    assert surgeons in files[FileKind.TABLES_NAMED]
    assert surgeons not in files[FileKind.TABLES]
    reader = PdfReader(io.BytesIO(packs.content_of(pack, FileKind.PDF)))
    assert not any("Bob" in page.extract_text() for page in reader.pages)


def test_a_surgeon_asks_for_the_own_point_alone(watched: list[Person]) -> None:
    pack = made(asked(watched[0]))
    assert pack.surgeons == "own"
    named = packs.content_of(pack, FileKind.DOCUMENT_NAMED).decode()
    assert "you" in named
    assert "Bob" not in named
    assert "Cleo" not in named


@pytest.mark.usefixtures("cases")
def test_the_work_shows_life_after_each_section_and_the_trail_holds(
    quality_lead: Person,
) -> None:
    asked(quality_lead)
    audit.seal_all()
    heard: list[int] = []
    with jobs.heard_by(heard.append):
        jobs.run_job("make_pack", lambda: packs.make_waiting(now=NOW, today=TODAY), now=NOW)
    assert len(heard) > 2
    audit.seal_all()
    found = audit.verify()
    assert (found.broken, found.unsealed) == (None, 0)
