"""The rooms that a person may enter, one word each, headed by the user's own question."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse
from django.utils import timezone

from analytics.selectors.alerts import waiting
from registry.selectors.visible import may, memberships_of


@dataclass(frozen=True)
class Room:
    """One word of the navigation, its page, and what one must be allowed to do there."""

    word: str
    url_name: str
    action: str


ROOMS = (
    Room("Due", "due", "see_due"),
    Room("Clinic", "clinic", "see_clinic"),
    Room("Films", "films", "see_films"),
    Room("Hardware", "hardware", "see_hardware"),
    Room("Outcomes", "outcomes", "see_outcomes"),
    Room("Harms", "harms", "see_outcomes"),
    Room("Signals", "signals", "see_signals"),
    Room("Trace", "trace", "trace"),
    Room("Setup", "setup", "set_up"),
)
# What the quality meeting asks, under the heading of each of these pages.
QUESTIONS = (
    Room("Did it hold?", "outcomes", "see_outcomes"),
    Room("Which construct does better?", "compare", "see_outcomes"),
    Room("What went wrong?", "harms", "see_outcomes"),
    Room("How well do we follow?", "following", "see_outcomes"),
    Room("How do they move and feel?", "function", "see_outcomes"),
    Room("Do the readers agree?", "agreement", "see_agreement"),
    Room("What do others report?", "literature", "see_outcomes"),
    Room("Is anything drifting?", "signals", "see_signals"),
    Room("How much more would we need?", "enough", "see_outcomes"),
    Room("What did the meeting decide?", "meetings", "see_outcomes"),
    Room("What goes to the meeting?", "packs", "see_outcomes"),
    Room("What goes to research?", "research", "take_data"),
    Room("What were the figures made from?", "snapshots", "see_outcomes"),
)
ACTS = (
    Room("Enrol", "enrol", "enrol"),
    Room("Films in", "incoming", "take_in_films"),
    Room("Import", "import", "import_cases"),
    Room("Hospital", "hospital", "see_hospital_messages"),
    Room("Emergency", "emergency-open", "open_in_emergency"),
    Room("Emergencies", "emergencies", "see_emergencies"),
)


# The page on which each role lands; whoever holds several, on the first of these.
LANDING = {
    "coordinator": "due",
    "surgeon": "clinic",
    "film_reader": "films",
    "quality_lead": "outcomes",
    "administrator": "setup",
}


def first_room(user: Any, today: date) -> Room | None:
    """Return the room that a person lands in after signing in."""
    held = frozenset[str]().union(*memberships_of(user, today).values())
    own = [page for role, page in LANDING.items() if role in held]
    rooms = {room.url_name: room for room in (*ROOMS, *ACTS) if may(user, room.action)}
    return next((rooms[page] for page in (*own, *rooms) if page in rooms), None)


def navigation(request: HttpRequest) -> dict[str, Any]:
    """Give every page the rooms, acts and rights of the person who is signed in."""
    user = getattr(request, "user", None)
    if user is None or not user.is_authenticated or getattr(request, "is_held", False):
        nothing: dict[str, Any] = {"rooms": [], "acts": [], "questions": []}
        return {**nothing, "provider": _provider(), "code_version": settings.CODE_VERSION}
    here = request.resolver_match.url_name if request.resolver_match else ""
    return {
        "rooms": [_entry(room, here) for room in ROOMS if may(user, room.action)],
        "acts": [_entry(room, here) for room in ACTS if may(user, room.action)],
        "questions": [_entry(room, here) for room in QUESTIONS if may(user, room.action)],
        "may_search": may(user, "see_identity"),
        "may_use_api": may(user, "use_api"),
        "may_see_own_actions": may(user, "see_own_actions"),
        "may_settle_retention": may(user, "settle_retention"),
        "may_see_messages": may(user, "see_messages"),
        "may_see_losses": may(user, "see_losses"),
        # Counted by the pages alone that show it.
        "losses_waiting": lambda: waiting(user, timezone.localdate()).count(),
        "code_version": settings.CODE_VERSION,
    }


def _entry(room: Room, here: str | None) -> dict[str, Any]:
    current = bool(here) and str(here).split("-", maxsplit=1)[0] == room.url_name
    return {"word": room.word, "url": reverse(room.url_name), "current": current}


def _provider() -> dict[str, str] | None:
    """Return the hospital's provider as the sign-in page offers it."""
    if not settings.SSO_ISSUER:
        return None
    url = reverse("openid_connect_login", args=[settings.SSO_PROVIDER_ID])
    return {"name": settings.SSO_NAME, "url": url}
