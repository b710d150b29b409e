"""A visit's note and letters, composed in plain text from what was recorded and nothing else.

A finding is told as what was found or read, with its day; what is not recorded is called not recorded.
No sentence draws a conclusion that the record does not hold. Names and addresses stand in the head.
"""

import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

NOT_RECORDED = "not recorded at this visit"
CAUTION = (
    "Composed from what was recorded in the follow-up registry. Lengths on films that were not "
    "calibrated are given as ratios only; small differences between films or examinations can be "
    "measurement error."
)
FOR_PATIENT = (
    "This letter says what was recorded at your visit. It does not replace the advice that you were "
    "given there."
)


@dataclass(frozen=True)
class FilmSeen:
    """One film of the visit: its view and day, and its readings in words."""

    view: str
    on: date
    readings: tuple[str, ...]


@dataclass(frozen=True)
class MotionSeen:
    """One side's motion of the visit; degrees by movement in words."""

    side: str
    mode: str
    is_injured: bool
    degrees: tuple[tuple[str, int], ...]
    thumb: str = ""


@dataclass(frozen=True)
class HarmSeen:
    """One complication found at the visit, or one that is not over."""

    kind: str
    grade: str
    on: date
    action: str
    ended_on: date | None
    is_new: bool


@dataclass(frozen=True)
class VisitFacts:
    """All that a note or a letter about one visit is composed from."""

    site: str
    telephone: str
    step: str
    visited_on: date
    signed_by: str
    side: str
    injury: str
    operation: str
    operated_on: date
    built: str
    films: tuple[FilmSeen, ...] = ()
    motion: tuple[MotionSeen, ...] = ()
    # Each instrument with its value and direction, and what it was before, in words.
    scores: tuple[str, ...] = ()
    behind: tuple[str, ...] = ()
    harms: tuple[HarmSeen, ...] = ()
    asked_about_harms: bool = False
    wound_seen: bool = False
    hardware: tuple[str, ...] = ()
    not_obtainable: tuple[str, ...] = ()
    plan: str = ""
    own_words: str = ""
    next_review: str = ""


def visit_note(facts: VisitFacts) -> str:
    """Return the note for the record: everything, in a fixed order."""
    return _joined(
        _opening(facts),
        _part("Films", _films(facts.films)),
        _part("Motion", _motion(facts.motion)),
        _part("Beside the milestones", facts.behind, or_none=False),
        _part("Scores", facts.scores),
        _part("Complications", _harms(facts)),
        _part("Wound", ["looked at"] if facts.wound_seen else []),
        _part("Hardware", facts.hardware),
        _part("Could not be had", facts.not_obtainable, or_none=False),
        _part("Note", [facts.own_words] if facts.own_words else [], or_none=False),
        _part("What next", _next(facts)),
        CAUTION,
    )


def to_referrer(facts: VisitFacts) -> str:
    """Return the letter to the referring doctor: the same findings, without what is for us alone."""
    return _joined(
        "Dear colleague,",
        f"Your patient came for the {facts.step} review on {_day(facts.visited_on)}. "
        f"{_sentence(facts)}",
        _part("Films", _films(facts.films)),
        _part("Motion", _motion(facts.motion)),
        _part("Scores", facts.scores),
        _part("Complications", _harms(facts)),
        _part("Hardware", facts.hardware),
        facts.own_words,
        _part("What next", _next(facts)),
        CAUTION,
        _closing(facts),
    )


def to_patient(facts: VisitFacts) -> str:
    """Return the letter to the patient: short, in everyday words, numbers only where they help."""
    return _joined(
        "You came to see us about your "
        f"{facts.side} shoulder on {_day(facts.visited_on)}, after your operation on "
        f"{_day(facts.operated_on)}.",
        _films_for_patient(facts.films),
        _motion_for_patient(facts.motion),
        _harms_for_patient(facts),
        f"What we agreed: {facts.plan.rstrip('.')}." if facts.plan else "",
        f"Your next planned visit: {facts.next_review}." if facts.next_review else "",
        _call_us(facts),
        FOR_PATIENT,
        _closing(facts),
    )


def _joined(*parts: str) -> str:
    return "\n\n".join(part for part in parts if part)


def _part(title: str, lines: Iterable[str], *, or_none: bool = True) -> str:
    """Return a part as a list; an empty one says so, or is left out where that says nothing."""
    told = [f"- {' '.join(line.split())}" for line in lines]
    if not told and not or_none:
        return ""
    return "\n".join([f"{title}:", *(told or [f"- {NOT_RECORDED}"])])


def _day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


def _opening(facts: VisitFacts) -> str:
    signed = f"; note by {facts.signed_by}" if facts.signed_by else ""
    return f"{facts.step}, seen on {_day(facts.visited_on)}{signed}\n{_sentence(facts)}"


def _sentence(facts: VisitFacts) -> str:
    days = (facts.visited_on - facts.operated_on).days
    built = f" ({facts.built})" if facts.built else ""
    return (
        f"{facts.injury}, {facts.side} side; {facts.operation}{built} on "
        f"{_day(facts.operated_on)}, {_ago(days)} before this visit."
    )


def _ago(days: int) -> str:
    if days < 14:
        return f"{days} day{'' if days == 1 else 's'}"
    if days < 120:
        return f"{days // 7} weeks"
    return f"{round(days / 30.44)} months"


def _films(films: Sequence[FilmSeen]) -> list[str]:
    return [
        f"{film.view}, {_day(film.on)}: {'; '.join(film.readings) or 'not read yet'}"
        for film in films
    ]


def _motion(exams: Sequence[MotionSeen]) -> list[str]:
    told = []
    for exam in exams:
        parts = [f"{name} {degrees} degrees" for name, degrees in exam.degrees]
        parts += [f"internal rotation to {exam.thumb}"] if exam.thumb else []
        which = "injured" if exam.is_injured else "other"
        told.append(f"{exam.side} ({which} side), {exam.mode}: {', '.join(parts)}")
    return told


def _harms(facts: VisitFacts) -> list[str]:
    told = [_harm(one) for one in facts.harms]
    if facts.asked_about_harms and not any(one.is_new for one in facts.harms):
        told.insert(0, "asked about; no new one was told or found")
    return told


def _harm(one: HarmSeen) -> str:
    parts = [f"{'new: ' if one.is_new else ''}{one.kind} ({_day(one.on)})", f"grade {one.grade}"]
    parts += [one.action] if one.action else []
    parts.append("not ended" if one.ended_on is None else f"ended {_day(one.ended_on)}")
    return "; ".join(parts)


def _next(facts: VisitFacts) -> list[str]:
    told = [facts.plan] if facts.plan else []
    return [*told, *([f"next review: {facts.next_review}"] if facts.next_review else [])]


def _films_for_patient(films: Sequence[FilmSeen]) -> str:
    if not films:
        return ""
    read = [film for film in films if film.readings]
    if not read:
        return "An X-ray was taken. It has not been read yet."
    told = " ".join(f"{film.view}: {'; '.join(film.readings)}." for film in read)
    return f"What was read from your X-rays: {told}"


def _motion_for_patient(exams: Sequence[MotionSeen]) -> str:
    words = {
        "flexion": "lift your arm forwards to {} degrees",
        "abduction": "lift it sideways to {} degrees",
        "external rotation": "turn it outwards to {} degrees",
    }
    for exam in exams:
        if exam.is_injured and exam.mode == "active" and exam.degrees:
            told = [words[name].format(degrees) for name, degrees in exam.degrees]
            return f"On that day you could {_listed(told)}."
    return ""


def _listed(parts: Sequence[str]) -> str:
    *first, last = parts
    return f"{', '.join(first)} and {last}" if first else last


def _harms_for_patient(facts: VisitFacts) -> str:
    new = [one.kind.lower() for one in facts.harms if one.is_new]
    if new:
        return f"We wrote down: {', '.join(new)}."
    return "No new problem was written down." if facts.asked_about_harms else ""


def _call_us(facts: VisitFacts) -> str:
    ring = f" on {facts.telephone}" if facts.telephone else ""
    return (
        "If the shoulder becomes more painful, swells, or the wound reddens or weeps, or if you have "
        f"any question about this letter, ring us{ring}."
    )


def _closing(facts: VisitFacts) -> str:
    return "\n".join(part for part in (facts.signed_by, facts.site) if part)


COMPOSERS = {"note": visit_note, "referrer": to_referrer, "patient": to_patient}


def content_hash(head: Sequence[str], addressee: str, body: str) -> str:
    """Return the SHA-256 of the words of a letter, in hexadecimal digits."""
    words = json.dumps([list(head), addressee, body], ensure_ascii=False)
    return hashlib.sha256(words.encode()).hexdigest()
