"""What a visit's note and letters are composed from, and which there are."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from followup.models.complications import Complication
from followup.models.films import Film
from followup.models.letters import Letter, LetterKind, LetterText
from followup.models.motion import InternalRotation, MotionExam
from followup.models.reviews import OPEN_STATES, Review
from followup.models.scores import Score
from followup.rules import requirements
from followup.rules.letters import FilmSeen, HarmSeen, MotionSeen, VisitFacts
from followup.rules.milestones import Assessment
from followup.rules.reading_words import told_outside
from followup.rules.scores.catalogue import INSTRUMENTS
from followup.rules.step_milestones import MOVEMENTS
from followup.selectors import milestones
from followup.selectors.clinic import Earlier, FilmLine, earlier_of
from followup.selectors.findings import found_in
from followup.selectors.visible import visible
from registry.models.injuries import Side
from registry.rules.construct_words import in_words
from registry.selectors.visible import Viewer

# The films of a visit may have been taken some days ahead of it.
FILMS_BEFORE = timedelta(days=14)


@dataclass(frozen=True)
class LetterLine:
    """One kind of letter of a visit: the last of it, or none yet."""

    kind: str
    name: str
    letters: tuple[Letter, ...]


def letters_of(review: Review) -> list[LetterLine]:
    """Return all letters of a visit by their kind, newest first; one query."""
    rows = list(Letter.objects.filter(review=review).select_related("changed_by"))
    return [
        LetterLine(
            kind.value,
            str(kind.label),
            tuple(row for row in reversed(rows) if row.kind == kind.value),
        )
        for kind in LetterKind
    ]


def letter_seen_by(user: Viewer, letter_id: int) -> Any:
    """Return a visible letter with its review; None where there is none, or nobody is named any more."""
    return (
        visible(user, Letter, "see_clinic")
        .select_related(
            "review__step", "review__site", "review__procedure__injury__patient__identity"
        )
        .filter(pk=letter_id, review__procedure__injury__patient__identity__isnull=False)
        .first()
    )


def text_of(letter: Letter) -> LetterText:
    """Return the words of a letter as they stand."""
    newest = letter.texts.order_by("version").last()
    if newest is None:
        raise LetterText.DoesNotExist(f"letter {letter.pk} has no words")
    return newest


def versions_of(letter: Letter) -> list[LetterText]:
    """Return every version of a letter's words, newest first."""
    return list(letter.texts.select_related("saved_by").defer("pages").order_by("-version"))


def head_of(review: Review) -> list[str]:
    """Return who a letter is about: name, day of birth, and the site's own number."""
    patient = review.procedure.injury.patient
    who = patient.identity
    exact = who.birth_earliest == who.birth_latest
    born = f"{who.birth_earliest:%d %b %Y}" if exact else f"{who.birth_earliest:%Y}"
    numbers = [
        f"{one.issuing_system} {one.value}" for one in patient.identifiers.filter(site=review.site)
    ]
    return [f"{who}, born {born}", *numbers[:1]]


def addressee_for(review: Review, kind: str) -> str:
    """Return whom a letter most likely goes to: the patient, or the doctor who had the last one."""
    patient = review.procedure.injury.patient
    if kind == LetterKind.PATIENT:
        who = patient.identity
        return f"{who.given_name} {who.family_name}\n{who.address}".strip()
    if kind == LetterKind.REFERRER:
        texts = LetterText.objects.filter(
            letter__kind=kind,
            letter__voided_at__isnull=True,
            letter__review__procedure__injury__patient=patient,
        )
        last = texts.exclude(addressee="").order_by("-saved_at").first()
        return "" if last is None else last.addressee
    return ""


def facts_of(review: Review, signed_by: str) -> VisitFacts:
    """Return what was recorded of an attended visit, for its note and letters.

    Raises ValueError for a review that nobody has attended.
    """
    on = review.attended_on
    if on is None:
        raise ValueError(f"review {review.pk} was not attended")
    procedure, injury = review.procedure, review.procedure.injury
    earlier = earlier_of(injury)
    construct = getattr(procedure, "construct", None)
    reviews = milestones.reviews_of(injury)
    assessed = milestones.assessments(injury, earlier.motion, reviews).get(on, ())
    wanted = requirements.wanted_of(review.step)
    return VisitFacts(
        site=review.site.name,
        telephone=review.site.telephone,
        step=review.step.name,
        visited_on=on,
        signed_by=signed_by,
        side=injury.get_side_display().lower(),
        injury=injury.get_kind_display(),
        operation=procedure.get_kind_display().lower()
        + (f" with {str(construct)[:1].lower()}{str(construct)[1:]}" if construct else ""),
        operated_on=procedure.performed_on,
        built="" if construct is None else in_words(construct),
        films=tuple(_film(line) for line in earlier.films if _is_of(line.film, review, on)),
        motion=tuple(_exam(exam, injury.side) for exam in earlier.motion if exam.examined_on == on),
        scores=tuple(_scores(earlier, review, on)),
        behind=tuple(_behind(assessed)),
        harms=tuple(_harms(earlier.complications, on)),
        asked_about_harms=requirements.SCREEN in review.asked,
        wound_seen=requirements.WOUND in review.asked,
        hardware=tuple(_hardware(review, earlier, on)),
        not_obtainable=tuple(
            f"{requirements.words(item, wanted.free_items)}: {why}"
            for item, why in review.not_obtainable.items()
        ),
        plan=review.next_step_note,
        own_words=review.visit_note,
        next_review=_next(reviews, on),
    )


def _is_of(film: Film, review: Review, on: date) -> bool:
    return max(review.opens_on, on - FILMS_BEFORE) <= film.taken_on <= on or film.taken_on == on


def _film(line: FilmLine) -> FilmSeen:
    told = [", ".join(told_outside(one, found_in(one))) for one in line.readings]
    if told and line.change_mm:
        told.append(f"{line.change_mm:+.1f} mm since the first film of this view")
    return FilmSeen(f"{line.film.get_view_display()} film", line.film.taken_on, tuple(told))


def _exam(exam: MotionExam, injured: str) -> MotionSeen:
    degrees = [(words, getattr(exam, f"{name}_deg")) for name, words in MOVEMENTS.items()]
    thumb = exam.internal_rotation
    return MotionSeen(
        side=str(Side(exam.side).label).lower(),
        mode=exam.mode,
        is_injured=exam.side == injured,
        degrees=tuple((words, value) for words, value in degrees if value is not None),
        thumb=str(InternalRotation(thumb).label) if thumb else "",
    )


def _scores(earlier: Earlier, review: Review, on: date) -> list[str]:
    """Say each score of the visit's window with its direction, and what it was before."""
    told = []
    for instrument, rows in earlier.scores:
        known = [row for row in rows if row.value is not None and row.taken_on <= on]
        if not known or known[-1].taken_on < min(review.opens_on, on):
            continue
        before = f", before {_scored(known[-2])}" if len(known) > 1 else ""
        way = "lower" if INSTRUMENTS[instrument.code].lower_is_better else "higher"
        told.append(f"{instrument.name}: {_scored(known[-1])}{before} ({way} is better)")
    return told


def _scored(row: Score) -> str:
    return f"{float(row.value or 0):g} on {row.taken_on:%d %b %Y}"


def _behind(assessed: tuple[Assessment, ...]) -> list[str]:
    return [one.sentence for one in assessed]


def _harms(events: tuple[Complication, ...], on: date) -> list[HarmSeen]:
    return [
        HarmSeen(
            kind=str(event),
            grade=event.get_grade_display(),
            on=event.detected_on,
            action=event.action,
            ended_on=event.resolved_on,
            is_new=event.detected_on == on,
        )
        for event in events
        if event.detected_on == on or (event.detected_on < on and event.resolved_on is None)
    ]


def _hardware(review: Review, earlier: Earlier, on: date) -> list[str]:
    told = ["asked about: no complaint"] if requirements.HARDWARE in review.asked else []
    for decision in earlier.decisions:
        if decision.procedure_id == review.procedure_id and decision.raised_on <= on:
            reason = f": {decision.reason}" if decision.reason else ""
            told.append(f"removal: {decision.get_state_display().lower()}{reason}")
    return told


def _next(reviews: list[Any], on: date) -> str:
    ahead = [one for one in reviews if one.state in OPEN_STATES and one.closes_on > on]
    first = min(ahead, key=lambda one: one.due_on, default=None)
    return "" if first is None else f"{first.step.name}, due about {first.due_on:%d %B %Y}"
