"""Mail, files and the console; and which carrier a means is given to."""

import smtplib
import stat
from pathlib import Path
from typing import Any, NoReturn

import pytest
from django.core.mail.backends.locmem import EmailBackend

from followup.exchange.delivery import ConsoleCarrier, FileCarrier, MailCarrier, carrier_for
from followup.exchange.http_delivery import HttpCarrier
from followup.exchange.parcels import Answer, Outcome, Parcel, Taken

PARCEL = Parcel("key-1", "email", "ada@example.invalid", "Your visit", "On 1 December.", "en")


def failing(monkeypatch: pytest.MonkeyPatch, method: str, fault: Exception) -> Answer:
    """Hand a letter to a mail backend of which one step fails."""

    def fail(*args: Any, **kwargs: Any) -> NoReturn:
        raise fault

    monkeypatch.setattr(EmailBackend, method, fail)
    return MailCarrier().hand_over(PARCEL)


def test_a_letter_goes_by_the_mail_backend_under_its_key(mailoutbox: list[Any]) -> None:
    answer = MailCarrier().hand_over(PARCEL)
    assert answer == Answer(Outcome.ACCEPTED, reference="<key-1@holdfast.invalid>")
    (letter,) = mailoutbox
    assert (letter.to, letter.subject, letter.body) == (
        ["ada@example.invalid"],
        "Your visit",
        "On 1 December.",
    )
    assert letter.message()["Message-ID"] == "<key-1@holdfast.invalid>"


@pytest.mark.parametrize(
    "fault",
    [ConnectionRefusedError("no"), TimeoutError("no"), smtplib.SMTPConnectError(421, b"no")],
)
def test_a_mail_server_that_cannot_be_reached_took_nothing(
    monkeypatch: pytest.MonkeyPatch, fault: Exception
) -> None:
    answer = failing(monkeypatch, "open", fault)
    assert answer.outcome is Outcome.RETRY
    assert answer.detail == f"the mail server cannot be reached: {type(fault).__name__}"


@pytest.mark.parametrize(
    ("fault", "outcome"),
    [
        (smtplib.SMTPRecipientsRefused({"ada@example.invalid": (550, b"no")}), Outcome.REFUSED),
        (smtplib.SMTPRecipientsRefused({"ada@example.invalid": (450, b"no")}), Outcome.RETRY),
        (smtplib.SMTPSenderRefused(553, b"no", "clinic@holdfast.invalid"), Outcome.REFUSED),
        (smtplib.SMTPDataError(451, b"later"), Outcome.RETRY),
        (smtplib.SMTPDataError(554, b"never"), Outcome.REFUSED),
        (smtplib.SMTPServerDisconnected("gone"), Outcome.UNKNOWN),
        (TimeoutError("silent"), Outcome.UNKNOWN),
        (ConnectionResetError("gone"), Outcome.UNKNOWN),
    ],
)
def test_what_a_fault_while_sending_lets_one_conclude(
    monkeypatch: pytest.MonkeyPatch, fault: Exception, outcome: Outcome
) -> None:
    answer = failing(monkeypatch, "send_messages", fault)
    assert answer.outcome is outcome
    assert "ada@" not in answer.detail


def test_a_goodbye_that_fails_takes_nothing_back(
    monkeypatch: pytest.MonkeyPatch, mailoutbox: list[Any]
) -> None:
    answer = failing(monkeypatch, "close", ConnectionResetError("gone"))
    assert answer.outcome is Outcome.ACCEPTED


def test_a_backend_that_took_nothing_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(EmailBackend, "send_messages", lambda self, messages: 0)
    assert MailCarrier().hand_over(PARCEL).outcome is Outcome.REFUSED


def test_mail_cannot_be_asked_afterwards() -> None:
    assert not MailCarrier().can_look_up
    assert MailCarrier().look_up("key-1") is Taken.NOT_KNOWN


def test_a_file_holds_a_message_whole_and_only_its_owner_reads_it(tmp_path: Path) -> None:
    ours = FileCarrier(tmp_path / "out")
    assert ours.look_up("key-1") is Taken.NOT_KNOWN
    assert ours.hand_over(PARCEL) == Answer(Outcome.ACCEPTED, reference="key-1.txt")
    (written,) = (tmp_path / "out").iterdir()
    assert written.read_text() == (
        "By: email\nTo: ada@example.invalid\nSubject: Your visit\n\nOn 1 December.\n"
    )
    assert stat.S_IMODE(written.stat().st_mode) == 0o600
    assert ours.look_up("key-1") is Taken.YES


def test_a_file_that_was_printed_and_cleared_away_is_not_said_to_be_missing(tmp_path: Path) -> None:
    ours = FileCarrier(tmp_path)
    ours.hand_over(PARCEL)
    (tmp_path / "key-1.txt").unlink()
    assert ours.look_up("key-1") is Taken.NOT_KNOWN


def test_the_same_message_twice_is_one_file(tmp_path: Path) -> None:
    ours = FileCarrier(tmp_path)
    for _ in range(2):
        assert ours.hand_over(PARCEL).outcome is Outcome.ACCEPTED
    assert len(list(tmp_path.iterdir())) == 1


def test_a_folder_that_cannot_be_written_took_nothing(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file stands here")
    answer = FileCarrier(tmp_path / "out").hand_over(PARCEL)
    assert answer.outcome is Outcome.RETRY
    assert "cannot be written" in answer.detail


def test_the_console_shows_a_message(capsys: pytest.CaptureFixture[str]) -> None:
    assert ConsoleCarrier().hand_over(PARCEL).outcome is Outcome.ACCEPTED
    assert "To: ada@example.invalid" in capsys.readouterr().out
    assert ConsoleCarrier().look_up("key-1") is Taken.NOT_KNOWN


def test_by_default_mail_goes_by_mail_and_all_else_to_files() -> None:
    assert isinstance(carrier_for("email"), MailCarrier)
    assert isinstance(carrier_for("text"), FileCarrier)
    assert isinstance(carrier_for("letter"), FileCarrier)


def test_the_settings_say_who_carries_what(settings: Any) -> None:
    provider = {
        "by": "http",
        "folder": "",
        "url": "https://provider.example/",
        "method": "PUT",
        "header": "X-Api-Key",
        "secret": "not-a-secret",
        "look_up_url": "https://provider.example/{key}",
        "timeout_seconds": 7,
    }
    settings.CARRIERS = {"text": provider, "letter": {"by": "console", "folder": ""}}
    ours = carrier_for("text")
    assert ours == HttpCarrier(
        "https://provider.example/",
        "PUT",
        {"X-Api-Key": "not-a-secret"},
        "https://provider.example/{key}",
        7,
    )
    assert isinstance(carrier_for("letter"), ConsoleCarrier)
