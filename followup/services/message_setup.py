"""A site's rules and words for messages; the shipped words."""

import re
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from followup.models.messages import MessagePolicy, MessageTemplate
from followup.rules import message_texts, replies
from followup.selectors.messages import last_number
from registry.errors import BadInput, StaleVersion
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import records, setup

# 'de', 'de-at', 'gsw': RFC 5646, section 2.2.1, as far as messages need it.
LANGUAGE = re.compile(r"[a-z]{2,3}(-[a-z0-9]{2,6})?")
COUNTRY_CODE = re.compile(r"[1-9][0-9]{0,3}")

# What reaches a patient at once, and so never at night.
WAKING = {"email": "e-mail", "text": "text messages"}


def load_templates(rows: Iterable[Mapping[str, Any]], *, now: datetime) -> int:
    """Add the shipped words that are not there yet, or have changed; return how many were added.

    What a service has written itself is left alone.
    """
    added = 0
    with records.change(by=None, reason="shipped words of messages"):
        for row in rows:
            shipped = {name: row[name] for name in ("purpose", "length", "language")}
            words = {name: row[name] for name in ("subject", "body")}
            number = last_number(None, **shipped)
            newest = MessageTemplate.objects.filter(site=None, **shipped, number=number)
            if not newest.filter(**words).exists():
                MessageTemplate.objects.create(**shipped, **words, number=number + 1, made_at=now)
                added += 1
    return added


def save_policy(
    *, policy: MessagePolicy, values: Mapping[str, Any], expected_version: int, by: Person | None
) -> MessagePolicy:
    """Save a site's rules for messages over the version that the user saw.

    Raises StaleVersion when somebody changed them first, BadInput when a value cannot be taken.
    """
    values = {**values, **_reply_rules(values)}
    most_a_day = values.get("most_a_day", policy.most_a_day)
    faults = _without_night(policy, values)
    if values.get("most_a_week", policy.most_a_week) < most_a_day:
        faults["most_a_week"] = f"A week holds at least what a day does: {most_a_day}."
    if faults:
        raise BadInput(faults)
    if policy.pk is None and MessagePolicy.objects.filter(site=policy.site).exists():
        current = MessagePolicy.objects.get(site=policy.site).version
        raise StaleVersion("The rules for messages", expected=expected_version, current=current)
    return setup.save_versioned(policy, values, expected_version=expected_version, by=by)


def _reply_rules(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return the words that end messages and the country code as they are kept.

    Raises BadInput.
    """
    kept: dict[str, Any] = {}
    if "stop_words" in values:
        try:
            kept["stop_words"] = list(replies.checked_words(values["stop_words"]))
        except ValueError as fault:
            raise BadInput({"stop_words": f"{str(fault).capitalize()}."}) from fault
    if "country_code" in values:
        code = values["country_code"].strip().removeprefix("+").removeprefix("00")
        if code and not COUNTRY_CODE.fullmatch(code):
            raise BadInput(
                {"country_code": "Write one to four digits, like 44; or leave it empty."}
            )
        kept["country_code"] = code
    return kept


def _without_night(policy: MessagePolicy, values: Mapping[str, Any]) -> dict[str, str]:
    """Return the fault of each means that would ring at night, by the field that ends its quiet."""
    faults = {}
    for means, words in WAKING.items():
        starts, ends = f"{means}_quiet_from", f"{means}_quiet_until"
        if values.get(starts, getattr(policy, starts)) == values.get(ends, getattr(policy, ends)):
            faults[ends] = (
                f"Without quiet hours, {words} would go at night. Give two different times, "
                "such as from 21:00 until 08:00; letters alone may go at any hour."
            )
    return faults


def save_template(
    *,
    site: Site,
    purpose: str,
    length: str,
    language: str,
    subject: str,
    body: str,
    expected_number: int,
    by: Person | None,
    now: datetime,
) -> MessageTemplate:
    """Write words for a purpose as a new version of the site's; the older ones stay as they were.

    `expected_number` is the version of the site's own that the user saw, 0 where there was none.
    Raises BadInput for a placeholder that is not known or is missing, a subject too many or too
    few, or a language that is none; StaleVersion when somebody wrote a version first.
    """
    language = language.strip().lower()
    body, subject = body.strip().replace("\r\n", "\n"), subject.strip()
    faults = message_texts.faults_of(purpose, length, subject, body)
    if not LANGUAGE.fullmatch(language):
        faults["language"] = f"'{language}' is no language; write two letters, like en or de."
    if faults:
        raise BadInput(faults)
    row = MessageTemplate(
        site=site,
        purpose=purpose,
        length=length,
        language=language,
        subject=subject,
        body=body,
        made_at=now,
        made_by=by,
    )
    with records.change(by=by):
        # One at a time for a site, so that two versions never get one number.
        Site.objects.select_for_update(no_key=True).get(pk=site.pk)
        number = last_number(site, purpose, length, language)
        if number != expected_number:
            raise StaleVersion("These words", expected=expected_number, current=number)
        row.number = number + 1
        records.check(row)
        row.save(force_insert=True)
    return row
