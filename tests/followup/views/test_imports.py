"""Importing in the browser: what would be done is seen before it is done."""

from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from followup.forms import imports as form
from followup.rules.case_columns.catalogue import COLUMNS
from registry.models import ImportBatch, Patient, Person
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
    assert 'accept=".csv,.xlsx"' in page


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
    done = here.post(page.wsgi_request.path, {"rows": "whole"}, follow=True)
    assert "2 cases added at North Hospital." in text(done)
    assert done.wsgi_request.path == reverse("import")
    assert Patient.objects.count() == 2
    batch = ImportBatch.objects.get()
    assert (batch.started_by.username, batch.file_name) == ("connie", "cases.csv")
    assert "imported whole" in text(done)
    assert here.get(page.wsgi_request.path).status_code == 404


def test_faults_are_shown_by_line_column_value_and_reason(here: Client) -> None:
    page = text(shown(here, case(1), case(2, construct_type="XYZ"), case(3, side="")))
    assert '<td data-label="Column">construct_type</td> <td data-label="Value">XYZ</td>' in page
    assert "&#x27;XYZ&#x27; is not known here; use one of:" in page
    assert '<span class="missing">empty</span>' in page
    assert "Import the 1 good row only" in page


def test_the_good_rows_alone_can_be_imported_and_the_others_downloaded(here: Client) -> None:
    page = shown(here, case(1), case(2, side="l"))
    address = page.wsgi_request.path
    after = here.post(address, {"rows": "good"}, follow=True)
    assert "1 case added at North Hospital." in text(after)
    assert 'Cannot be used</dt><dd class="act-now">1</dd>' in text(after)
    assert Patient.objects.count() == 1
    token = address.strip("/").split("/")[-1]
    rejected = here.get(reverse("import-rejected", kwargs={"token": token}))
    head, row = rejected.content.decode("utf-8-sig").splitlines()
    assert head.endswith(",reason")
    assert row.startswith("000002,Anders")
    assert "cases-rejected.csv" in rejected["Content-Disposition"]


def test_a_file_with_faults_is_not_imported_whole_by_any_way(here: Client) -> None:
    page = shown(here, case(1), case(2, side="l"))
    after = here.post(page.wsgi_request.path, {"rows": "whole"}, follow=True)
    assert "Nothing was imported: see what is wrong below." in text(after)
    assert not Patient.objects.exists()
    assert ImportBatch.objects.get().state == "refused"


def test_the_same_file_again_offers_nothing_to_import(here: Client) -> None:
    first = shown(here, case(1))
    here.post(first.wsgi_request.path, {"rows": "whole"})
    again = text(shown(here, case(1)))
    assert "Nothing is new in this file" in again
    assert "Line 2: imported before" in again
    assert '<button class="main">' not in again


def test_dates_can_be_said_to_be_day_first(here: Client) -> None:
    row = case(1, procedure_date="06.02.2025")
    assert "can be read in two ways" in text(shown(here, row))
    assert "Import the whole file: 1 case<" in text(shown(here, row, day_first="on"))


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "This file is empty."),
        (bytes(range(256)) * 40, "The file is not a table but binary data."),
        (b"one,two\n1,2\n", "The first row names no column of a file of cases."),
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


def test_a_file_that_is_too_large_is_refused_with_its_size(here: Client) -> None:
    answer = here.post(reverse("import"), sent(content=b"x" * (11 * 1024 * 1024)))
    assert "This file has 11.0 MB; at most 10 MB are taken here." in text(answer)


def test_ten_megabytes_of_nonsense_are_refused_and_not_kept(here: Client, tmp_path: Any) -> None:
    content = b"nonsense, \n" * (form.MOST_MEGABYTES * form.MEGABYTE // 11)
    answer = here.post(reverse("import"), sent(content=content))
    assert 'id="id_file_error"' in text(answer)
    assert len(answer.content) < 20_000
    assert [one for one in tmp_path.rglob("*") if one.is_file()] == []


def test_more_rows_than_a_page_can_wait_for_are_sent_to_the_command(
    here: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("followup.views.imports.MOST_ROWS", 2)
    answer = here.post(reverse("import"), sent(*(case(n) for n in range(3))))
    assert "The file has 3 rows; at most 2 are taken here at once." in text(answer)


def test_many_faults_are_cut_short_with_their_number(here: Client) -> None:
    page = shown(here, *(case(n, side="l") for n in range(220)))
    assert "(the first 200; 20 more)" in text(page)
    assert page.content.count(b"<tr>") == 201


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
