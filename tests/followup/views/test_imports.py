"""Importing in the browser: what would be done is seen before it is done."""

from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from followup.forms import imports as form
from followup.models.imports import ImportDraft
from followup.rules.case_columns.catalogue import COLUMNS
from followup.services import uploads
from followup.tasks.imports import work
from registry.models import AuditEntry, ImportBatch, Patient, Person
from tests import builders
from tests.builders import NOW
from tests.followup.case_files import case, file_of

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture(autouse=True)
def today(settings: Any, tmp_path: Any) -> Iterator[None]:
    settings.MEDIA_ROOT = tmp_path
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def here(client: Client, coordinator: Person) -> Client:
    client.force_login(coordinator)
    return client


def sent(*rows: dict[str, str], content: bytes | None = None, **more: Any) -> dict[str, Any]:
    data = file_of(*rows).getvalue() if content is None else content
    return {
        "site": builders.site().pk,
        "file": SimpleUploadedFile("cases.csv", data, "text/csv"),
        **more,
    }


def shown(client: Client, *rows: dict[str, str], **more: Any) -> Any:
    """Send a file and return the page that says what would be imported."""
    answer = client.post(reverse("import"), sent(*rows, **more), follow=True)
    assert answer.redirect_chain, answer.content.decode()
    return answer


def text(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def test_the_page_offers_the_template_and_a_form(here: Client) -> None:
    page = text(here.get(reverse("import")))
    assert reverse("import-template") in page
    assert 'enctype="multipart/form-data"' in page
    assert 'accept=".csv,.tsv,.txt,.xlsx"' in page


def test_the_template_names_every_column(here: Client) -> None:
    answer = here.get(reverse("import-template"))
    head = answer.content.decode("utf-8-sig").splitlines()[0]
    assert head == ",".join(column.name for column in COLUMNS)
    assert "cases.csv" in answer["Content-Disposition"]


def test_the_template_itself_can_be_sent_back(here: Client) -> None:
    template = here.get(reverse("import-template")).content
    page = shown(here, content=template)
    assert "Import the whole file: 2 cases" in text(page)


def test_a_good_file_is_shown_first_and_then_imported_whole(here: Client) -> None:
    page = shown(here, case(1), case(2))
    assert "Import the whole file: 2 cases" in text(page)
    assert not Patient.objects.exists()
    assert not ImportBatch.objects.exists()
    done = here.post(page.wsgi_request.path, follow=True)
    batch = ImportBatch.objects.get()
    assert done.wsgi_request.path == reverse("import-batch", args=[batch.pk])
    assert "<dt>Rows in</dt><dd>2</dd>" in text(done)
    assert "Added</a></dt><dd>2</dd>" in text(done)
    assert Patient.objects.count() == 2
    assert (batch.started_by.username, batch.file_name) == ("connie", "cases.csv")
    assert "imported whole" in text(here.get(reverse("import")))
    assert here.get(page.wsgi_request.path).status_code == 404


def test_faults_are_shown_by_line_column_value_and_reason(here: Client) -> None:
    rows = (case(1), case(2, procedure_date="2025-02-30"), case(3, side=""))
    page = text(shown(here, *rows))
    assert (
        '<td data-label="Column">procedure_date</td> <td data-label="Value">2025-02-30</td>' in page
    )
    assert "is not a possible date" in page
    assert '<span class="missing">empty</span>' in page
    assert "Import the 1 good row only" in page


def test_the_good_rows_alone_can_be_imported_and_the_others_downloaded(here: Client) -> None:
    page = shown(here, case(1), case(2, procedure_date="2025-02-30"))
    address = page.wsgi_request.path
    after = here.post(address, follow=True)
    assert "Added</a></dt><dd>1</dd>" in text(after)
    assert "Refused</a></dt><dd>1</dd>" in text(after)
    assert Patient.objects.count() == 1
    token = address.strip("/").split("/")[-1]
    rejected = here.get(reverse("import-rejected", kwargs={"token": token}))
    head, row = rejected.getvalue().decode("utf-8-sig").splitlines()
    assert head.endswith(",reason")
    assert row.startswith("000002,Anders")
    assert "is not a possible date" in row
    assert "cases-rejected.csv" in rejected["Content-Disposition"]


def test_the_same_file_again_offers_nothing_to_import(here: Client) -> None:
    first = shown(here, case(1))
    here.post(first.wsgi_request.path)
    again = text(shown(here, case(1)))
    assert "Nothing is new in this file" in again
    assert "Line 2: imported before" in again
    assert '<button class="main">' not in again


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "This file is empty."),
        (bytes(range(256)) * 40, "The file is not a table but binary data."),
        (b"one\n1\n", "names only one column"),
        (b"one,two\n", "holds no row below them"),
        (b"PK\x03\x04 and nothing more", "The workbook is damaged and cannot be read"),
    ],
)
def test_what_is_no_file_of_cases_is_refused_by_its_field(
    here: Client, content: bytes, words: str
) -> None:
    answer = here.post(reverse("import"), sent(content=content))
    assert answer.status_code == 200
    assert words in text(answer)
    assert 'id="id_file_error"' in text(answer)


def test_a_file_that_is_too_large_is_refused_with_its_size(
    here: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(form, "MOST_MEGABYTES", 1)
    answer = here.post(reverse("import"), sent(content=b"x" * (2 * 1024 * 1024)))
    assert "This file has 2.0 MB; at most 1 MB are taken here." in text(answer)


def test_nonsense_is_refused_and_not_kept(here: Client, tmp_path: Any) -> None:
    answer = here.post(reverse("import"), sent(content=b"nonsense\n" * 20_000))
    assert 'id="id_file_error"' in text(answer)
    assert len(answer.content) < 20_000
    assert [one for one in tmp_path.rglob("*") if one.is_file()] == []
    assert not ImportDraft.objects.exists()


def test_a_long_file_is_left_to_the_background_with_its_progress(
    here: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("followup.views.imports.INLINE_BYTES", 10)
    page = shown(here, *(case(n) for n in range(3)))
    assert "Being read" in text(page)
    assert 'hx-trigger="every 3s"' in text(page)
    address = page.wsgi_request.path
    assert "Being read" in text(here.get(f"{address}?part=progress"))
    assert work()["said"] == "1 files worked on."
    assert "Import the whole file: 3 cases" in text(here.get(address))
    receipt = here.post(address, follow=True)
    assert "Being imported</span>: 0 of 3 rows" in text(receipt)
    work()
    done = text(here.get(receipt.wsgi_request.path))
    assert "Added</a></dt><dd>3</dd>" in done
    assert "every 3s" not in done


def test_many_faults_are_paged(here: Client) -> None:
    page = shown(here, *(case(n, procedure_date="soon") for n in range(120)))
    assert "What is wrong, line by line (120)" in text(page)
    assert page.content.count(b"<tr>") == 101
    assert "Line 121" in text(here.get(f"{page.wsgi_request.path}?page=2"))


def test_an_administrator_may_import_and_others_may_not(client: Client) -> None:
    allowed = {"coordinator", "administrator"}
    for role in ("coordinator", "surgeon", "film_reader", "quality_lead", "administrator"):
        client.force_login(builders.person(f"one_{role}", north=role))
        for name in ("import", "import-template"):
            expected = 200 if role in allowed else 403
            assert client.get(reverse(name)).status_code == expected


def test_another_sites_file_is_not_there(here: Client, outsider: Person) -> None:
    address = shown(here, case(1)).wsgi_request.path
    stranger = Client()
    stranger.force_login(outsider)
    for answer in (
        stranger.get(address),
        stranger.post(address, {"rows": "whole"}),
        stranger.get(f"{address}rejected.csv"),
    ):
        assert answer.status_code == 404
    assert not Patient.objects.exists()


def test_a_site_of_others_cannot_be_chosen(here: Client) -> None:
    south = builders.site("south")
    answer = here.post(reverse("import"), sent(case(1), site=south.pk))
    assert answer.status_code == 200
    assert 'id="id_site_error"' in text(answer)
    assert "South Hospital" not in text(answer)


def test_only_own_sites_earlier_files_are_listed(here: Client, outsider: Person) -> None:
    first = shown(here, case(1))
    here.post(first.wsgi_request.path, {"rows": "whole"})
    stranger = Client()
    stranger.force_login(outsider)
    assert "cases.csv" in text(here.get(reverse("import")))
    assert "cases.csv" not in text(stranger.get(reverse("import")))


def test_the_list_of_files_costs_the_same_for_two_and_for_twenty(
    here: Client, coordinator: Person, counted: Any
) -> None:
    def cost() -> int:
        with counted() as queries:
            here.get(reverse("import"))
        return len(queries)

    def files(count: int) -> None:
        for _ in range(count):
            ImportBatch.objects.create(
                site=builders.site(),
                file_name="cases.csv",
                content_hash="0" * 64,
                started_at=NOW,
                started_by=coordinator,
                state="done",
                rows_read=1,
                rows_landed=1,
                rows_known=0,
                rows_refused=0,
            )

    files(2)
    few = cost()
    files(18)
    assert cost() == few


def test_cases_are_taken_out_with_names_for_those_who_may_see_them(here: Client) -> None:
    here.post(shown(here, case(1)).wsgi_request.path)
    address = reverse("export-cases", args=[builders.site().pk])
    assert address in text(here.get(reverse("import")))
    answer = here.get(address)
    assert "cases-north.csv" in answer["Content-Disposition"]
    _, row = answer.getvalue().decode("utf-8-sig").splitlines()
    assert row.startswith("000001,Andersb,Milab,1986-04-12")
    noted = AuditEntry.objects.latest("id")
    assert (noted.action, noted.reason) == ("read", "cases of north as a file, with names")
    assert noted.person_id == Person.objects.get(username="connie").pk
    admin = Client()
    admin.force_login(builders.person("adam", north="administrator"))
    assert b"Anders" not in admin.get(address).getvalue()
    assert AuditEntry.objects.latest("id").reason == "cases of north as a file, without names"
    south = reverse("export-cases", args=[builders.site("south").pk])
    assert here.get(south).status_code == 404


def test_a_kept_file_says_that_somebody_was_erased_and_is_discarded(here: Client) -> None:
    page = shown(here, case())
    assert "was erased" not in text(page)
    draft = ImportDraft.objects.get()
    uploads.mark_erased(sites=[draft.site_id], now=NOW)
    again = text(here.get(page.wsgi_request.path))
    assert "A patient of North Hospital was erased on 25 Nov 2026, after" in again
    assert "may name somebody erased" in text(here.get(reverse("import")))
    discarded = here.post(reverse("import-discard", args=[draft.token]), follow=True)
    assert "cases.csv is discarded" in text(discarded)
    assert not ImportDraft.objects.exists()
    assert here.post(reverse("import-discard", args=[draft.token])).status_code == 404


def test_a_file_that_is_being_worked_on_is_not_discarded(here: Client) -> None:
    shown(here, case())
    ImportDraft.objects.update(state="landing")
    draft = ImportDraft.objects.get()
    kept = here.post(reverse("import-discard", args=[draft.token]), follow=True)
    assert "being worked on" in text(kept)
    assert ImportDraft.objects.exists()
