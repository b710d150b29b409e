"""Who may do what: one table, read by the check, the navigation and the tests."""

from collections.abc import Iterable
from dataclasses import dataclass

ROLES = ("coordinator", "surgeon", "film_reader", "quality_lead", "administrator")
# Who looks after patients and knows their names.
CLINICAL = frozenset({"coordinator", "surgeon"})

# What an emergency opens of a patient elsewhere, to those whose roles permit it at home: reading alone.
READ_IN_EMERGENCY = frozenset({"see_identity", "see_patient", "see_films"})


@dataclass(frozen=True)
class Right:
    """What one may do, in words, and the roles that permit it."""

    words: str
    roles: frozenset[str]


def _to(words: str, *names: str) -> Right:
    return Right(words, frozenset(names))


RIGHTS: dict[str, Right] = {
    "see_identity": _to(
        "see who a patient is: name, birth date, numbers, how to reach them",
        "coordinator",
        "surgeon",
    ),
    "see_patient": _to(
        "open a patient: injuries, operations, what was found, the whole history",
        "coordinator",
        "surgeon",
    ),
    "open_in_emergency": _to(
        "open a patient of another site in an emergency, to read, for a reason and a short time",
        "coordinator",
        "surgeon",
    ),
    "see_emergencies": _to(
        "see who opened whom of the site in an emergency, by key, and say what came of it",
        "quality_lead",
        "administrator",
    ),
    "enrol": _to("enrol patients, record injuries and operations", "coordinator", "surgeon"),
    "answer_access": _to("answer a person who asks what is held on them", "coordinator"),
    "correct": _to(
        "correct, void, merge and move what was recorded of patients", "coordinator", "surgeon"
    ),
    "settle_retention": _to(
        "decide about patients whose records are past their time: erase, keep", "surgeon"
    ),
    "see_due": _to(
        "see who is due, the call sheet and the load of the clinics", "coordinator", "surgeon"
    ),
    "book": _to("book and move slots, level the load", "coordinator"),
    "record_contact": _to(
        "record tries at contact, close tasks, mark letters as sent", "coordinator", "surgeon"
    ),
    "end_review": _to("end a review that is not needed", "coordinator", "surgeon"),
    "see_clinic": _to("see the clinic's day, letters and calendars", "coordinator", "surgeon"),
    "record_visit": _to("record a visit: motion, scores, complications, letters", "surgeon"),
    "see_films": _to("see films by the patient's key", "surgeon", "film_reader"),
    "read_film": _to("read and measure films", "surgeon", "film_reader"),
    "see_losses": _to("see and settle whose reduction may be lost", "surgeon"),
    "take_in_films": _to("take in pictures of films and sort them", "coordinator", "surgeon"),
    "see_hardware": _to("see whose hardware needs a decision", "coordinator", "surgeon"),
    "decide_hardware": _to("decide about hardware", "surgeon"),
    "see_outcomes": _to("see outcomes, harms, comparisons and packs", "surgeon", "quality_lead"),
    "see_cases": _to("see the cases behind a figure, by key", "surgeon", "quality_lead"),
    "take_data": _to(
        "take the pseudonymised data set, extracts for research and copies in FHIR", "quality_lead"
    ),
    "keep_meetings": _to("keep meetings and their decisions", "quality_lead"),
    "see_own_actions": _to("see the decisions that are one's own to carry out", *ROLES),
    "see_signals": _to("see running charts and signals", "surgeon", "quality_lead"),
    "settle_signals": _to("fix charts, check and close signals", "quality_lead"),
    "see_surgeons": _to(
        "see all surgeons in a funnel, where the site's policy has it on", "quality_lead"
    ),
    "see_agreement": _to("see how well readings agree", "surgeon", "film_reader", "quality_lead"),
    "see_readers": _to("see how each reader agrees, by name", "quality_lead"),
    "invite": _to("ask patients at home", "coordinator", "surgeon"),
    "see_responses": _to("see how many answer at home", "coordinator", "surgeon", "quality_lead"),
    "see_messages": _to(
        "see which messages to patients did not go, by key", "coordinator", "administrator"
    ),
    "settle_messages": _to(
        "decide about messages that did not go, and about answers", "coordinator"
    ),
    "trace": _to(
        "trace implants, names only where they are seen anyway",
        "coordinator",
        "surgeon",
        "quality_lead",
        "administrator",
    ),
    "keep_notices": _to(
        "enter, correct and close safety notices", "coordinator", "quality_lead", "administrator"
    ),
    "settle_carriers": _to(
        "record what was done about a patient whom a notice concerns", "coordinator", "surgeon"
    ),
    "see_hospital_messages": _to(
        "see what the hospital's system sent, by key", "coordinator", "administrator"
    ),
    "settle_hospital_messages": _to(
        "settle what the hospital's system sent and nobody could place", "coordinator"
    ),
    "import_cases": _to(
        "import files of cases, take them out again", "coordinator", "administrator"
    ),
    "set_up": _to(
        "set up sites, people, roles, protocols, clinics, rules and wordings", "administrator"
    ),
    "use_api": _to(
        "use the interfaces for programs", "coordinator", "surgeon", "film_reader", "quality_lead"
    ),
}
TABLE: dict[str, frozenset[str]] = {action: right.roles for action, right in RIGHTS.items()}


def matrix() -> list[str]:
    """Return the rights as rows of a table: what one may do in words, and each role's 'yes' or nothing."""
    heads = ["what", *(role.replace("_", " ") for role in ROLES)]
    rows = [f"| {' | '.join(heads)} |", "|---" * len(heads) + "|"]
    for right in RIGHTS.values():
        cells = ["yes" if role in right.roles else "" for role in ROLES]
        rows.append(f"| {' | '.join([right.words, *cells])} |")
    return rows


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
