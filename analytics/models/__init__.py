"""The analytics rows."""

from analytics.models.alert_mails import (
    AlertMail,
    AlertMailChoice,
    AlertTold,
    MailChoice,
    MailKind,
    MailState,
)
from analytics.models.alerts import (
    AlertLevel,
    AlertPlan,
    AlertState,
    AlertStepKind,
    CaseToWeigh,
    LossAlert,
    LossAlertStep,
)
from analytics.models.definitions import EndpointChoice
from analytics.models.meetings import (
    DecisionState,
    DecisionStep,
    Meeting,
    MeetingDecision,
    MeetingSite,
)
from analytics.models.monitoring import ChartCase, ChartDesign, MonitoringPolicy, Watched
from analytics.models.packs import FileKind, Pack, PackFile, PackSite, PackState
from analytics.models.releases import Release, ReleasedPopulation
from analytics.models.research import (
    AgeHandling,
    DateHandling,
    ResearchExtract,
    ResearchKey,
    ResearchProject,
    ResearchSite,
)
from analytics.models.signals import (
    CheckSubject,
    CheckVerdict,
    DataCheck,
    FindingKind,
    Signal,
    SignalState,
    SignalStep,
)
from analytics.models.snapshots import Snapshot, SnapshotTable

__all__ = [
    "AgeHandling",
    "AlertLevel",
    "AlertMail",
    "AlertMailChoice",
    "AlertPlan",
    "AlertState",
    "AlertStepKind",
    "AlertTold",
    "CaseToWeigh",
    "ChartCase",
    "ChartDesign",
    "CheckSubject",
    "CheckVerdict",
    "DataCheck",
    "DateHandling",
    "DecisionState",
    "DecisionStep",
    "EndpointChoice",
    "FileKind",
    "FindingKind",
    "LossAlert",
    "LossAlertStep",
    "MailChoice",
    "MailKind",
    "MailState",
    "Meeting",
    "MeetingDecision",
    "MeetingSite",
    "MonitoringPolicy",
    "Pack",
    "PackFile",
    "PackSite",
    "PackState",
    "Release",
    "ReleasedPopulation",
    "ResearchExtract",
    "ResearchKey",
    "ResearchProject",
    "ResearchSite",
    "Signal",
    "SignalState",
    "SignalStep",
    "Snapshot",
    "SnapshotTable",
    "Watched",
]
