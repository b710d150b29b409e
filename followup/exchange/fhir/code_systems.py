"""Every code system of ours as FHIR serves it: those of the registry and those of the follow-up."""

from collections.abc import Iterator

from followup.models.complications import ComplicationGrade, ComplicationKind, Relation
from followup.models.films import Calibration, FractureLine, HardwareOnFilm, Posture, Union, View
from followup.models.findings import FindingKind, FindingState
from followup.models.motion import InternalRotation, MotionMode
from followup.models.reviews import EndedBecause, ReviewState
from followup.models.scores import ScoreMode
from followup.models.tasks import TaskKind
from followup.rules import calibration, questions
from followup.rules.findings import PLACES
from followup.rules.scores.catalogue import INSTRUMENTS
from registry.exchange.fhir import terms
from registry.exchange.fhir.terms import LocalSystem
from registry.models.constructs import ConstructType
from registry.rules.fhir.elements import Json

MEASURES = {
    "flexion": "Forward flexion of the shoulder",
    "abduction": "Abduction of the shoulder",
    "external-rotation": "External rotation of the shoulder",
    "internal-rotation": "Internal rotation of the shoulder, by the landmark that the thumb reaches",
    "ccd": "Coracoclavicular distance",
    "ccd-side-ratio": "Coracoclavicular distance, excess over the other side",
    "acd": "Upper cortex of the clavicle above that of the acromion",
    "translation": "Translation as a share of the width of the shaft",
    "union": "Union on the film",
    "cortices-bridged": "Bridged cortices of the four of two films",
    "fracture-line": "Fracture line on the film",
    "hardware": "Hardware on the film",
    "not-obtained": "What a review asked for and could not be had",
    "motion": "Motion of the shoulder",
}
_OURS = (
    LocalSystem("measure", "What is measured or judged", MEASURES),
    LocalSystem(
        "instrument", "Outcome instrument", {one.code: one.name for one in INSTRUMENTS.values()}
    ),
    LocalSystem("finding", "What a film is looked through for", dict(FindingKind.choices)),
    LocalSystem("finding-state", "Whether a finding is there", dict(FindingState.choices)),
    LocalSystem(
        "finding-place", "Where a finding is", {one: one.replace("_", " ") for one in PLACES}
    ),
    LocalSystem("motion-mode", "Active or passive", dict(MotionMode.choices)),
    LocalSystem(
        "internal-rotation", "Landmark of internal rotation", dict(InternalRotation.choices)
    ),
    LocalSystem("view", "View of a film", dict(View.choices)),
    LocalSystem("posture", "Posture on a film", dict(Posture.choices)),
    LocalSystem("calibration", "How a film is calibrated", dict(Calibration.choices)),
    LocalSystem("pixel-size", "Where the size of a pixel is known from", calibration.NAMES),
    LocalSystem("union", "Union on a film", dict(Union.choices)),
    LocalSystem("fracture-line", "Fracture line on a film", dict(FractureLine.choices)),
    LocalSystem("hardware", "Hardware on a film", dict(HardwareOnFilm.choices)),
    LocalSystem("score-mode", "How an instrument was answered", dict(ScoreMode.choices)),
    LocalSystem("complication-kind", "Unwanted event", dict(ComplicationKind.choices)),
    LocalSystem(
        "complication-grade",
        "Grade of an unwanted event by what was done (orthopaedic adaptation, Sink 2012)",
        dict(ComplicationGrade.choices),
    ),
    LocalSystem("relation", "What an unwanted event came from", dict(Relation.choices)),
    LocalSystem("task-kind", "Why something is to be done", dict(TaskKind.choices)),
    LocalSystem("review-state", "How a review stands", dict(ReviewState.choices)),
    LocalSystem("ended-because", "Why a review is not needed", dict(EndedBecause.choices)),
    LocalSystem(
        "answer",
        "Answers to the questions of this service, as question.answer",
        {
            f"{question.code}.{choice.code}": choice.words
            for question in questions.HOUSE.values()
            for choice in question.choices
        },
    ),
)
SYSTEMS: dict[str, LocalSystem] = {**terms.LOCAL_SYSTEMS, **{one.name: one for one in _OURS}}


def coded(name: str, code: str, display: str = "") -> Json:
    """Return a code of one of our systems with its words."""
    return terms.local(name, code, display or SYSTEMS[name].concepts[code])


def code_systems() -> Iterator[Json]:
    """Yield every code system of ours as a resource; construct types are a service's own."""
    types = {one.code: one.name for one in ConstructType.objects.order_by("code")}
    made = LocalSystem(terms.CONSTRUCT_TYPE, "Construct type of this service", types)
    for name in sorted([*SYSTEMS, terms.CONSTRUCT_TYPE]):
        yield terms.code_system(SYSTEMS.get(name, made))
