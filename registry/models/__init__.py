"""The registry's rows."""

from registry.models.audit import AuditEntry, ChainHead
from registry.models.constructs import Construct, ConstructDeparture, ConstructType, Part
from registry.models.emergencies import EmergencyAccess
from registry.models.foreign_numbers import ForeignNumber
from registry.models.hospital_messages import HospitalDoor, HospitalMessage, HospitalRecord
from registry.models.identities import AlternativeContact, Identifier, Identity
from registry.models.implants import ImplantModel
from registry.models.imports import ImportBatch, ImportRow
from registry.models.injuries import Classification, Injury
from registry.models.jobs import JobLock, JobRun
from registry.models.merges import PatientMerge, TwoPeople
from registry.models.moves import RecordMove
from registry.models.patients import Consent, Patient, PatientSite
from registry.models.people import Person
from registry.models.procedures import Procedure
from registry.models.retention import Destruction, RetentionHold, RetentionKind, RetentionRule
from registry.models.safety_notices import (
    CarrierStep,
    NoticeCarrier,
    NoticeClosing,
    NoticeScope,
    SafetyNotice,
)
from registry.models.sign_ins import SignInEvent, SignInTry
from registry.models.sites import Membership, Site
from registry.models.tokens import TokenScope

__all__ = [
    "AlternativeContact",
    "AuditEntry",
    "CarrierStep",
    "ChainHead",
    "Classification",
    "Consent",
    "Construct",
    "ConstructDeparture",
    "ConstructType",
    "Destruction",
    "EmergencyAccess",
    "ForeignNumber",
    "HospitalDoor",
    "HospitalMessage",
    "HospitalRecord",
    "Identifier",
    "Identity",
    "ImplantModel",
    "ImportBatch",
    "ImportRow",
    "Injury",
    "JobLock",
    "JobRun",
    "Membership",
    "NoticeCarrier",
    "NoticeClosing",
    "NoticeScope",
    "Part",
    "Patient",
    "PatientMerge",
    "PatientSite",
    "Person",
    "Procedure",
    "RecordMove",
    "RetentionHold",
    "RetentionKind",
    "RetentionRule",
    "SafetyNotice",
    "SignInEvent",
    "SignInTry",
    "Site",
    "TokenScope",
    "TwoPeople",
]
