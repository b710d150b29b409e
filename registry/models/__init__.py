"""The registry's rows."""

from registry.models.audit import AuditEntry, ChainHead
from registry.models.constructs import Construct, ConstructDeparture, ConstructType, Part
from registry.models.identities import AlternativeContact, Identifier, Identity
from registry.models.implants import ImplantModel
from registry.models.imports import ImportBatch, ImportRow
from registry.models.injuries import Classification, Injury
from registry.models.jobs import JobLock, JobRun
from registry.models.merges import PatientMerge, TwoPeople
from registry.models.patients import Consent, Patient, PatientSite
from registry.models.people import Person
from registry.models.procedures import Procedure
from registry.models.sites import Membership, Site

__all__ = [
    "AlternativeContact",
    "AuditEntry",
    "ChainHead",
    "Classification",
    "Consent",
    "Construct",
    "ConstructDeparture",
    "ConstructType",
    "Identifier",
    "Identity",
    "ImplantModel",
    "ImportBatch",
    "ImportRow",
    "Injury",
    "JobLock",
    "JobRun",
    "Membership",
    "Part",
    "Patient",
    "PatientMerge",
    "PatientSite",
    "Person",
    "Procedure",
    "Site",
    "TwoPeople",
]
