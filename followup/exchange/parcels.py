"""What is handed to a carrier, and what its answer lets one conclude."""

from dataclasses import dataclass
from enum import Enum


@dataclass(frozen=True)
class Parcel:
    """One message as it goes: `key` is the same however often it is handed over.

    `again` says that it was handed over under this key before, perhaps in other words: a link is
    made anew each time.
    """

    key: str
    means: str
    to: str
    subject: str
    text: str
    language: str
    again: bool = False


class Outcome(Enum):
    """Taken; refused for good; not taken, so that it may be tried again; or not known."""

    ACCEPTED = "accepted"
    REFUSED = "refused"
    RETRY = "retry"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Answer:
    """What became of one handing over. `detail` names no patient, address or secret."""

    outcome: Outcome
    detail: str = ""
    reference: str = ""


class Taken(Enum):
    """What a carrier that was asked says about a key; or that nothing came back from it."""

    YES = "yes"
    NO = "no"
    NOT_KNOWN = "not_known"
    NO_ANSWER = "no_answer"
