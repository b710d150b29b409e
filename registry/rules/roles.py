"""Who may do what: one table, read by the check, the navigation and the tests."""

from collections.abc import Iterable

ROLES = ("coordinator", "surgeon", "film_reader", "quality_lead", "administrator")

TABLE: dict[str, frozenset[str]] = {
    "see_identity": frozenset({"coordinator", "surgeon"}),
    "see_patient": frozenset({"coordinator", "surgeon"}),
    "enrol": frozenset({"coordinator", "surgeon"}),
    "correct": frozenset({"coordinator", "surgeon"}),
    "see_due": frozenset({"coordinator", "surgeon"}),
    "book": frozenset({"coordinator"}),
    "record_contact": frozenset({"coordinator", "surgeon"}),
    "end_review": frozenset({"coordinator", "surgeon"}),
    "see_clinic": frozenset({"surgeon", "coordinator"}),
    "record_visit": frozenset({"surgeon"}),
    "see_films": frozenset({"surgeon", "film_reader"}),
    "read_film": frozenset({"surgeon", "film_reader"}),
    "see_losses": frozenset({"surgeon"}),
    "take_in_films": frozenset({"coordinator", "surgeon"}),
    "see_hardware": frozenset({"surgeon", "coordinator"}),
    "decide_hardware": frozenset({"surgeon"}),
    "see_outcomes": frozenset({"surgeon", "quality_lead"}),
    "see_cases": frozenset({"surgeon", "quality_lead"}),
    "take_data": frozenset({"quality_lead"}),
    "keep_meetings": frozenset({"quality_lead"}),
    "see_own_actions": frozenset(ROLES),
    "see_signals": frozenset({"surgeon", "quality_lead"}),
    "settle_signals": frozenset({"quality_lead"}),
    "see_surgeons": frozenset({"quality_lead"}),
    "see_agreement": frozenset({"surgeon", "film_reader", "quality_lead"}),
    "see_readers": frozenset({"quality_lead"}),
    "invite": frozenset({"coordinator", "surgeon"}),
    "see_responses": frozenset({"coordinator", "surgeon", "quality_lead"}),
    "see_messages": frozenset({"coordinator", "administrator"}),
    "settle_messages": frozenset({"coordinator"}),
    "import_cases": frozenset({"coordinator", "administrator"}),
    "set_up": frozenset({"administrator"}),
    "use_api": frozenset({"coordinator", "surgeon", "film_reader", "quality_lead"}),
}


def allowed(roles: Iterable[str], action: str) -> bool:
    """Say whether any of the roles permits an action.

    Raises KeyError for an action that is not in the table, so that a typing error never opens a door.
    """
    return not TABLE[action].isdisjoint(roles)


def roles_with(action: str) -> frozenset[str]:
    """Return the roles that permit an action.

    Raises KeyError for an unknown action.
    """
    return TABLE[action]
