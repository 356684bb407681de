"""Records of the app, and the ledger that answers for them."""

from anomalies.models.access_token import AccessToken, TokenUse
from anomalies.models.action import ActionCause, ActionEvidence, CorrectiveAction
from anomalies.models.activity import Activity, ActivityHardware, CrewAssignment
from anomalies.models.anomaly import Anomaly, AnomalyHardware
from anomalies.models.brief_share import BriefShare, BriefShareUse
from anomalies.models.calendar_key import CalendarKey, CalendarUse
from anomalies.models.cause import Cause, CauseEvidence, CauseFinding
from anomalies.models.effect import ActionEffect, ActionTie, Baseline
from anomalies.models.evidence import Evidence, EvidenceOpening, TelemetrySeries, TimelineEntry
from anomalies.models.finding import BoardSeat, Concurrence, Finding, FindingEvidence
from anomalies.models.hardware import HardwareItem, HardwareType, Installation
from anomalies.models.investigation import (
    Bearing,
    Disposition,
    DispositionEvidence,
    DispositionFinding,
    Inspection,
    Investigation,
)
from anomalies.models.learning import ExposureEntry, FailureMode, Measure, Occurrence, ParameterUpdate
from anomalies.models.ledger import LedgerEntry, LedgerHead
from anomalies.models.lesson import Lesson, LessonPlace, LessonUse
from anomalies.models.meeting import BoardMeeting, MeetingAttendance, MeetingDecision
from anomalies.models.notice import MailChoice, NoticeMark, PersonalNotice
from anomalies.models.numbering import NumberSeries
from anomalies.models.password_tries import PasswordTries
from anomalies.models.procedure import Acknowledgement, Procedure, ProcedureRevision, ProcedureUse
from anomalies.models.readiness import (
    PollAnswer,
    PollPosition,
    ReadinessReview,
    ReadinessSnapshot,
    Verdict,
    Waiver,
)
from anomalies.models.requirement import Fulfilment, Requirement, StandardPosition
from anomalies.models.saved_view import SavedView
from anomalies.models.search import SearchText
from anomalies.models.sign_off import SignOff
from anomalies.models.ties import AnomalyLink, Constraint

__all__ = [
    "AccessToken",
    "Acknowledgement",
    "ActionCause",
    "ActionEffect",
    "ActionEvidence",
    "ActionTie",
    "Activity",
    "ActivityHardware",
    "Anomaly",
    "AnomalyHardware",
    "AnomalyLink",
    "Baseline",
    "Bearing",
    "BoardMeeting",
    "BoardSeat",
    "BriefShare",
    "BriefShareUse",
    "CalendarKey",
    "CalendarUse",
    "Cause",
    "CauseEvidence",
    "CauseFinding",
    "Concurrence",
    "Constraint",
    "CorrectiveAction",
    "CrewAssignment",
    "Disposition",
    "DispositionEvidence",
    "DispositionFinding",
    "Evidence",
    "EvidenceOpening",
    "ExposureEntry",
    "FailureMode",
    "Finding",
    "FindingEvidence",
    "Fulfilment",
    "HardwareItem",
    "HardwareType",
    "Inspection",
    "Installation",
    "Investigation",
    "LedgerEntry",
    "LedgerHead",
    "Lesson",
    "LessonPlace",
    "LessonUse",
    "MailChoice",
    "Measure",
    "MeetingAttendance",
    "MeetingDecision",
    "NoticeMark",
    "NumberSeries",
    "Occurrence",
    "ParameterUpdate",
    "PasswordTries",
    "PersonalNotice",
    "PollAnswer",
    "PollPosition",
    "Procedure",
    "ProcedureRevision",
    "ProcedureUse",
    "ReadinessReview",
    "ReadinessSnapshot",
    "Requirement",
    "SavedView",
    "SearchText",
    "SignOff",
    "StandardPosition",
    "TelemetrySeries",
    "TimelineEntry",
    "TokenUse",
    "Verdict",
    "Waiver",
]
