"""What a department's own list means is settled page by page, by keyboard and form alone."""

from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from followup.models.imports import DraftState, ImportDraft, RememberedWord
from followup.services import import_drafts
from registry.models import Injury, Person, Procedure
from tests import builders
from tests.builders import NOW
from tests.followup.sent_files import list_of, sent, settled, theirs

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


def send(client: Client, content: bytes) -> Any:
    file = SimpleUploadedFile("list.csv", content, "text/csv")
    data = {"site": builders.site().pk, "file": file}
    return client.post(reverse("import"), data, follow=True)


def text(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def agree(client: Client, page: Any, **said: str) -> Any:
    """Send a page's form as it stands, but for what is said."""
    form = page.context["form"]
    data = {field.html_name: field.value() or "" for field in form} | said
    return client.post(page.wsgi_request.path, data, follow=True)


def at(page: Any, name: str) -> bool:
    return bool(page.wsgi_request.resolver_match.url_name == name)


def test_a_department_s_own_list_is_taken_in_page_by_page(here: Client) -> None:
    rows = (theirs(1), theirs(2, Seite="re", **{"OP-Datum": "25.02.2025"}))
    columns = send(here, list_of(*rows, encoding="cp1252"))
    assert at(columns, "import-columns")
    assert "Which column is which?" in text(columns)
    assert "proposed: the same words" in text(columns)
    assert "At 6w: pain, 0 none to 10</option>" in text(columns)
    days = agree(here, columns)
    assert at(days, "import-days")
    assert "25.02.2025 can only be day first." in text(days)
    unsaid = agree(here, days)
    assert "Say which, here or for all; it is never guessed." in text(unsaid)
    words = agree(here, days, **dict.fromkeys(open_orders(days), "day_first"))
    assert at(words, "import-words")
    assert "What do these words mean?" in text(words)
    plate = next(
        field.html_name
        for question, field in words.context["form"].lines()
        if question.word == "Platte"
    )
    assert "Say what it means." in text(agree(here, words))
    check = agree(here, words, **{plate: "LP"})
    assert at(check, "import-check")
    assert "Left out on purpose: Bemerkung." in text(check)
    assert "Import the whole file: 2 cases" in text(check)
    done = here.post(check.wsgi_request.path, follow=True)
    assert "13 columns" not in text(done)
    assert "12 columns used, 1 left out" in text(done)
    assert set(Injury.objects.values_list("side", flat=True)) == {"left", "right"}
    assert str(Procedure.objects.order_by("performed_on")[0].performed_on) == "2025-02-06"
    again = send(here, list_of(theirs(3)))
    assert at(again, "import-check")


def test_words_that_were_explained_before_are_shown_and_can_be_changed(here: Client) -> None:
    first = settled(sent(list_of(theirs(1))), construct_type="HP", side="right")
    page = here.get(reverse("import-words", args=[first.token]))
    assert "No word is new" in text(page)
    assert "<details> <summary>Words of the file that were explained before: 3</summary>" in text(
        page
    )
    side = next(
        field for question, field in page.context["form"].answered_lines() if question.word == "li"
    )
    assert side.value() == "right"
    assert at(agree(here, page, **{side.html_name: "left"}), "import-check")
    first.refresh_from_db()
    assert import_drafts.translation_of(first).words["side"] == {"li": "left"}
    assert RememberedWord.objects.get(word="li").code == "left"


def open_orders(page: Any) -> list[str]:
    """Return the fields of columns of which nothing is known yet."""
    fields = [field for field in page.context["form"] if field.html_name.startswith("order_")]
    return [
        field.html_name for field in fields if not field.value() and "all" not in field.html_name
    ]


def test_what_is_open_in_all_columns_is_said_once_and_a_column_may_say_otherwise(
    here: Client,
) -> None:
    columns = send(here, list_of(theirs(1)))
    days = agree(here, columns)
    assert "All columns at once" in text(days)
    assert "in all 3 columns" in text(days)
    first, *others = open_orders(days)
    assert len(others) == 2
    said = agree(here, days, **{"order_all": "day_first", first: "month_first"})
    assert at(said, "import-words")
    uses = import_drafts.translation_of(ImportDraft.objects.get()).uses
    orders = sorted(one.dates.order for one in uses if one.dates.order)
    # The fourth is what its own values say.
    assert orders == ["day_first", "day_first", "day_first", "month_first"]


def test_columns_that_make_no_case_are_refused_on_the_page(here: Client) -> None:
    page = send(here, list_of(theirs(1)))
    refused = agree(here, page, column_6="")
    assert at(refused, "import-columns")
    assert "No column gives injured side, as a word (side); a case needs them." in text(refused)


def test_accented_words_are_shown_in_each_encoding(here: Client) -> None:
    page = send(here, list_of(theirs(1, Name="M\u00fcller"), encoding="mac_roman"))
    assert at(page, "import-text")
    assert "M\u00fcller (Mac Roman)" in text(page)
    columns = here.post(
        page.wsgi_request.path, {"encoding": "mac_roman", "separator": ""}, follow=True
    )
    assert at(columns, "import-columns")
    assert "M\u00fcller" in text(columns)


def test_a_file_of_very_many_columns_shares_one_list_of_fields(here: Client) -> None:
    wide = theirs(1) | {f"extra {n}": str(n) for n in range(100)}
    page = send(here, list_of(wide))
    assert 'list="our-fields"' in text(page)
    assert len(page.content) < 200_000
    refused = agree(here, page, column_12="nothing of ours")
    assert "&#x27;nothing of ours&#x27; is no field of ours (Bemerkung)." in text(refused)


def test_settled_pages_can_be_looked_at_and_changed_until_the_import(here: Client) -> None:
    page = send(here, list_of(theirs(1)))
    draft = ImportDraft.objects.get()
    for name in ("import-days", "import-words"):
        assert here.get(reverse(name, args=[draft.token])).status_code == 200
    ImportDraft.objects.update(state=DraftState.CHECKING, holder="somebody")
    stays = agree(here, page)
    assert "its columns stay as they are" in text(stays)
    assert ImportDraft.objects.get().columns_settled is False


def test_another_sites_file_is_nowhere(here: Client, outsider: Person) -> None:
    send(here, list_of(theirs(1)))
    token = ImportDraft.objects.get().token
    stranger = Client()
    stranger.force_login(outsider)
    for name in ("text", "columns", "days", "words", "people", "check", "rejected"):
        assert stranger.get(reverse(f"import-{name}", args=[token])).status_code == 404
