"""The follow-up rows."""

from followup.models.bulk_exports import BulkExport, BulkFile
from followup.models.calendars import Clinic, ClosedDay, HeldDay
from followup.models.calibrations import ImageCalibration
from followup.models.complications import Complication
from followup.models.contacts import ContactAttempt, ContactPolicy, Unreachable
from followup.models.drafts import VisitDraft, VisitPresence
from followup.models.feeds import CalendarFeed, CalendarPolicy
from followup.models.films import Film, Reading
from followup.models.findings import ReadingFinding, UnionRule
from followup.models.hardware import HardwareDecision, HardwareStep
from followup.models.hospital_slots import HospitalSlot
from followup.models.images import FilmImage, IncomingImage
from followup.models.imports import (
    ImportDraft,
    ImportFinding,
    ImportPair,
    RememberedColumns,
    RememberedWord,
)
from followup.models.letters import Letter, LetterText
from followup.models.lists import ReviewSum, SavedFilter
from followup.models.load import LoadLine, LoadProposal
from followup.models.messages import Message, MessagePolicy, MessageStep, MessageTemplate
from followup.models.motion import MotionExam
from followup.models.protocols import Protocol, ProtocolStep, ProtocolVersion, VersionMove
from followup.models.questionnaires import (
    Answer,
    Invitation,
    InvitationLink,
    Questionnaire,
    QuestionnaireSetup,
    UrgentAdvice,
    Wording,
)
from followup.models.readings import ReadingPolicy, WantedReading
from followup.models.replies import Reply
from followup.models.reviews import Appointment, Review
from followup.models.scores import Score
from followup.models.tasks import Task

__all__ = [
    "Answer",
    "Appointment",
    "BulkExport",
    "BulkFile",
    "CalendarFeed",
    "CalendarPolicy",
    "Clinic",
    "ClosedDay",
    "Complication",
    "ContactAttempt",
    "ContactPolicy",
    "Film",
    "FilmImage",
    "HardwareDecision",
    "HardwareStep",
    "HeldDay",
    "HospitalSlot",
    "ImageCalibration",
    "ImportDraft",
    "ImportFinding",
    "ImportPair",
    "IncomingImage",
    "Invitation",
    "InvitationLink",
    "Letter",
    "LetterText",
    "LoadLine",
    "LoadProposal",
    "Message",
    "MessagePolicy",
    "MessageStep",
    "MessageTemplate",
    "MotionExam",
    "Protocol",
    "ProtocolStep",
    "ProtocolVersion",
    "Questionnaire",
    "QuestionnaireSetup",
    "Reading",
    "ReadingFinding",
    "ReadingPolicy",
    "RememberedColumns",
    "RememberedWord",
    "Reply",
    "Review",
    "ReviewSum",
    "SavedFilter",
    "Score",
    "Task",
    "UnionRule",
    "Unreachable",
    "UrgentAdvice",
    "VersionMove",
    "VisitDraft",
    "VisitPresence",
    "WantedReading",
    "Wording",
]
