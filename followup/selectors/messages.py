"""Messages that a person has to look at, and the words and rules by which they go."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Max, Q, QuerySet

from followup.models.messages import (
    PARKED,
    Message,
    MessagePolicy,
    MessageState,
    MessageTemplate,
)
from followup.models.reviews import OPEN_STATES, Review
from followup.rules.dispatch import MEANS_IN_WORDS, Policy, Quiet
from followup.selectors.visible import visible
from registry.models.sites import Site
from registry.selectors.patients import search
from registry.selectors.visible import Viewer, site_ids

WITH = ("patient__identity", "site", "review__step", "appointment", "template")
CASES_SHOWN = 20
BY_EACH = ("email", "text", "letter")
SHOWS = {
    "act": "Failed, or not known whether it went",
    "failed": "Failed",
    "unknown": "Not known whether it went",
    "waiting": "Waiting",
    "sent": "Sent",
    "stopped": "Stopped",
    "all": "All",
}


def policy_of(site: Site) -> MessagePolicy:
    """Return a site's rules for messages, or the shipped ones where it has set none."""
    found = MessagePolicy.objects.filter(site=site).first()
    return found if found is not None else MessagePolicy(site=site)


def rules_of(policy: MessagePolicy) -> Policy:
    """Return a site's rules as the rules of dispatch take them."""
    return Policy(
        means=tuple(one for one in BY_EACH if getattr(policy, f"sends_{one}")),
        quiet={
            one: Quiet(getattr(policy, f"{one}_quiet_from"), getattr(policy, f"{one}_quiet_until"))
            for one in BY_EACH
        },
        most_a_day=policy.most_a_day,
        most_a_week=policy.most_a_week,
    )


def template_for(
    site_id: int, purpose: str, length: str, languages: Sequence[str]
) -> MessageTemplate | None:
    """Return the words for a message: in the best language, the site's own before the shipped."""
    rows = MessageTemplate.objects.filter(
        Q(site_id=site_id) | Q(site__isnull=True),
        purpose=purpose,
        length=length,
        language__in=languages,
    )
    order = {language: place for place, language in enumerate(languages)}
    found = sorted(rows, key=lambda row: (order[row.language], row.site_id is None, -row.number))
    return found[0] if found else None


def current_templates(site: Site) -> list[MessageTemplate]:
    """Return the words that a site uses now, one for each purpose, length and language."""
    rows = MessageTemplate.objects.filter(Q(site=site) | Q(site__isnull=True))
    chosen: dict[tuple[str, str, str], MessageTemplate] = {}
    # The last one seen stands: the site's own after the shipped, the newest after the older.
    for row in sorted(rows, key=lambda row: (row.site_id is not None, row.number)):
        chosen[(row.purpose, row.length, row.language)] = row
    return [chosen[key] for key in sorted(chosen)]


def last_number(site: Site | None, purpose: str, length: str, language: str) -> int:
    """Return the number of the newest version of some words, 0 where there is none."""
    rows = MessageTemplate.objects.filter(
        site=site, purpose=purpose, length=length, language=language
    )
    return rows.aggregate(last=Max("number"))["last"] or 0


def messages_seen(user: Viewer, show: str) -> "QuerySet[Any]":
    """Return the messages that a person may see, those that were put in last first."""
    rows = visible(user, Message, "see_messages").select_related(*WITH)
    if show == "act":
        rows = rows.filter(state__in=PARKED)
    elif show in MessageState.values:
        rows = rows.filter(state=show)
    return rows.order_by("-id")


def parked_count(user: Viewer) -> int:
    """Return how many messages wait for a person's decision."""
    return visible(user, Message, "see_messages").filter(state__in=PARKED).count()


@dataclass(frozen=True)
class MessageLine:
    """One message as a list shows it: whose by name where that may be seen, else by key."""

    message: Message
    whose: str
    means: str
    is_parked: bool


def lines(user: Viewer, rows: Sequence[Any]) -> list[MessageLine]:
    """Return the lines of one page."""
    named = sites_with_names(user)
    return [
        MessageLine(
            row, _whose(row, named), MEANS_IN_WORDS.get(row.means, row.means), row.state in PARKED
        )
        for row in rows
    ]


def _whose(message: Message, named: Collection[int]) -> str:
    identity = getattr(message.patient, "identity", None)
    if identity is None or message.site_id not in named:
        return message.patient.key
    return str(identity)


def sites_with_names(user: Viewer) -> list[int]:
    """Return the sites where a person may see who a patient is."""
    return site_ids(user, "see_identity")


def cases(user: Viewer, site: Site, text: str) -> list[Review]:
    """Return reviews for a preview: of patients found by name, number or key; the next due first."""
    if site.pk not in sites_with_names(user):
        return []
    theirs = search(user, text).order_by().values("pk")
    rows = (
        visible(user, Review, "see_due")
        .filter(site=site, state__in=OPEN_STATES, procedure__injury__patient__in=theirs)
        .select_related("step", "site", "procedure__injury__patient__identity")
    )
    return list(rows.order_by("due_on", "id")[:CASES_SHOWN])
