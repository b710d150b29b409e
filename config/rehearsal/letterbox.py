"""Where the rehearsal's messages end: kept in memory with the moment at which they came."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import ClassVar

from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend


@dataclass(frozen=True)
class Letter:
    """One message as it arrived."""

    at: datetime
    to: str
    subject: str
    body: str


class Letterbox(BaseEmailBackend):
    """Takes every e-mail; `now` is the rehearsal's clock."""

    now: ClassVar[datetime | None] = None
    letters: ClassVar[list[Letter]] = []

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        for one in email_messages:
            if self.now is None:
                raise ValueError("the rehearsal has not begun; nothing may be sent here")
            for to in one.to:
                self.letters.append(Letter(self.now, to, str(one.subject), str(one.body)))
        return len(email_messages)
