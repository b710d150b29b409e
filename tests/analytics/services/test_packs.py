"""A pack: asked for once, made by the worker from one snapshot, and the same when made again."""

import hashlib
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
from registry.models import Membership, Person
from registry.services import audit, jobs
from tests import builders
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
    return {
        kind: hashlib.sha256(packs.content_of(pack, kind)).hexdigest() for kind in FileKind.values
    }


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
    assert [one["key"] for one in document["sections"]] == ["held", "united", "harms"]
    assert not any(one["figures"] for one in document["sections"])
    assert "Between ourselves" not in text
    assert "small numbers hidden" in document["outside"]
    with zipfile.ZipFile(io.BytesIO(packs.content_of(pack, FileKind.TABLES))) as archive:
        lines = archive.read("held.csv").decode().splitlines()
    assert not any(line.startswith("# left_out") for line in lines)
    # Seven operations and one event are small numbers.
    assert next(line for line in lines if line.startswith("all,")).startswith("all,*,*,*,*,0,0,")


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
    found = audit.verify()
    assert (found.broken, found.unsealed) == (None, 0)
