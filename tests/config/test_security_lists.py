"""What SECURITY.md counts and lists is what is there."""

import re
from collections import Counter
from pathlib import Path

import pytest
from django.conf import settings

from config.sign_in import known_devices
from followup.api.fhir import taking
from followup.forms import due_bulk
from followup.forms import imports as import_forms
from followup.rules import reminding
from followup.services import bulk_exports, image_files, links, uploads
from followup.views import emergencies, feeds, questionnaires
from registry.exchange import sheet_books, sheet_heads, sheet_parts, sheet_text
from registry.exchange.fhir import transactions
from registry.management.commands import take_hl7
from registry.models import HospitalDoor
from registry.rules import sign_in_waits as waits
from registry.rules.labels import MOST_CHARACTERS
from registry.rules.scan_list import MOST_LINES
from registry.services import jobs, tokens

ROOT = Path(__file__).resolve().parents[2]
TEXT = (ROOT / "config" / "SECURITY.md").read_text()
ROWS = re.findall(r"^\| (\d+\.\d+\.\d+) \| (.*?) \| (.*?) \| (.*) \|$", TEXT, re.MULTILINE)
KINDS = ("grave", "middling", "slight", "paper")


def test_the_head_counts_the_rows() -> None:
    answers = Counter(answer for _, _, answer, _ in ROWS)
    assert set(answers) <= {"met", "does not apply", "**gap**"}
    gaps = Counter(why.split(":")[0] for _, _, answer, why in ROWS if answer == "**gap**")
    assert set(gaps) <= set(KINDS)
    parts = ", ".join(f"{gaps[kind]} {kind}" for kind in KINDS if gaps[kind])
    told = (
        f"Of {len(ROWS)} requirements {answers['met']} are met, {answers['does not apply']} do not "
        f"apply and {answers['**gap**']} are gaps: {parts}."
    )
    assert told in TEXT
    assert len({number for number, *_ in ROWS}) == len(ROWS)
    for kind in KINDS:
        wanted = {
            f"{number} {subject}" for number, subject, _, why in ROWS if why.startswith(f"{kind}:")
        }
        (line,) = re.findall(rf"^- \*\*{kind}\*\*: (.*)\.$", TEXT, re.MULTILINE) or [""]
        assert set(line.split("; ") if line else ()) == wanted, kind


def test_what_is_named_is_there() -> None:
    named = re.findall(r"`((?:registry|followup|analytics|config|tests)/[\w./]*)`", TEXT)
    assert len(named) > 100
    assert [name for name in named if not (ROOT / name).exists()] == []
    of_settings = set(re.findall(r"HOLDFAST_[A-Z0-9_]+", TEXT))
    read = "".join(file.read_text() for file in (ROOT / "config").glob("*.py"))
    # Those of a carrier are put together from its means.
    made = {"HOLDFAST_TEXT_URL", "HOLDFAST_LETTER_URL"}
    assert [name for name in sorted(of_settings - made) if name not in read] == []


def minutes(limit: waits.Limit) -> str:
    return f"{limit.most.seconds // 60} minutes"


DEVICE, ACCOUNT, ADDRESS = (waits.LIMITS[kind] for kind in ("device", "account", "address"))
FILM = settings.FILM_LIMITS


@pytest.mark.parametrize(
    "told",
    [
        f"{DEVICE.free} of a browser, then {DEVICE.first.seconds} seconds doubling to {minutes(DEVICE)}",
        f"{ACCOUNT.free} of an account, to {minutes(ACCOUNT)}",
        f"{ADDRESS.free} of an address, to {minutes(ADDRESS)}",
        f"{settings.IDLE_SECONDS // 60} minutes unused, {settings.SESSION_COOKIE_AGE // 3600} hours in all",
        f"ask again after {settings.ACCOUNT_REAUTHENTICATION_TIMEOUT // 60} minutes",
        f"{', '.join(map(str, tokens.LIFETIMES))[:-5]} or 365 days; {tokens.MOST} a person",
        f"{links.TOKEN_BYTES * 8} random bits in the address",
        f"a cookie of {questionnaires.COOKIE_SECONDS // 3600} hours",
        f"{reminding.EXPIRY_DAYS} days unless the site sets another",
        f"{bulk_exports.AT_ONCE} at once, kept a day",
        f"{emergencies.TRIES} an hour; open for {settings.EMERGENCY_MINUTES} minutes",
        f"{questionnaires.BY_LINK} in 10 minutes, {questionnaires.BY_PAGES} pages",
        f"| {questionnaires.BY_ADDRESS} in 10 minutes |",
        f"calendar address | {feeds.KNOCKS} in {feeds.SECONDS // 60} minutes",
        f"{settings.HL7_CONNECTIONS} connections",
        f"reviews changed together | {due_bulk.MOST_ROWS}",
        f"{import_forms.MOST_MEGABYTES} MB; unpacked {sheet_books.MAX_UNPACKED_BYTES // 1_000_000} MB",
        f"in {sheet_books.MAX_PARTS:,} parts; {sheet_parts.MOST_CELLS:,} cells",
        f"{sheet_parts.BYTES_IN_ONE // 1_000_000} MB in a row, {sheet_parts.MOST_HELD:,} styles",
        f"; {sheet_heads.MAX_COLUMNS} columns; a line or record of {sheet_text.LONGEST_LINE:,} letters",
        f"{FILM['most_bytes'] // 1_000_000} MB, {FILM['most_pixels'] // 1_000_000} megapixels",
        f"{FILM['most_frames']} frames, {FILM['most_pixels_in_all'] // 1_000_000} megapixels in all",
        f"{settings.FILMS_AT_ONCE} films at once; opened in {settings.FILM_MEMORY_MB:,} MB",
        f"{taking.MOST_BYTES // 1_000_000} MB, {transactions.MOST_ENTRIES} entries",
        f"{settings.HL7_MOST_KB:,} kB on the line; a file of `take_hl7` {take_hl7.MOST_MB} MB",
        f"{MOST_CHARACTERS} characters, {MOST_LINES} at once",
        f"{settings.REQUEST_MOST_MB:,} MB in all, {settings.DATA_UPLOAD_MAX_NUMBER_FIELDS:,} fields",
        f"confirmed, changed a factor | database | {settings.SIGN_IN_EVENT_DAYS} days",
        f"runs of jobs | when, how many, faults | database | {jobs.KEPT_DAYS} days",
        f"hospital's messages {HospitalDoor._meta.get_field('keep_days').default} days",
        f"lists of cases {uploads.KEPT_FOR.days} days",
        f"films of voided rows {image_files.KEPT_AFTER_VOID.days} days",
    ],
)
def test_a_figure_is_that_of_the_code(told: str) -> None:
    assert told in TEXT
    assert bulk_exports.KEPT_FOR.days == 1
    assert (emergencies.STRETCH, questionnaires.TEN_MINUTES) == (3600, 600)


def test_limits_of_the_library_and_the_proxy_are_those_that_are_listed() -> None:
    limits = settings.ACCOUNT_RATE_LIMITS
    assert limits["login_failed"] == "10/5m/key"
    assert limits["reauthenticate"] == "20/m/user"
    assert limits["change_password"] == "10/m/user"
    proxy = (ROOT / "config" / "proxy.conf").read_text()
    for words in ("rate=20r/s", "burst=60 ", "limit_conn open 40"):
        assert words in proxy
    assert (
        'env.text("HOLDFAST_API_RATE", "600/min")' in (ROOT / "config" / "settings.py").read_text()
    )
    assert known_devices.MARK_BYTES * 8 == 128
