"""Records of the app, and the ledger that answers for them."""

from anomalies.models.access_token import AccessToken, TokenUse
from anomalies.models.action import ActionCause, ActionEvidence, CorrectiveAction
from anomalies.models.activity import Activity, ActivityHardware, CrewAssignment
from anomalies.models.anomaly import Anomaly, AnomalyHardware
from anomalies.models.cause import Cause, CauseEvidence, CauseFinding
from anomalies.models.evidence import Evidence, EvidenceOpening, TelemetrySeries, TimelineEntry
from anomalies.models.finding import BoardSeat, Concurrence, Finding, FindingEvidence
from anomalies.models.hardware import HardwareItem, HardwareType, Installation
from anomalies.models.ledger import LedgerEntry, LedgerHead
from anomalies.models.notice import MailChoice, NoticeMark, PersonalNotice
from anomalies.models.numbering import NumberSeries
from anomalies.models.password_tries import PasswordTries
from anomalies.models.procedure import Acknowledgement, Procedure, ProcedureRevision, ProcedureUse
from anomalies.models.saved_view import SavedView
from anomalies.models.search import SearchText
from anomalies.models.sign_off import SignOff
from anomalies.models.ties import AnomalyLink, Constraint

__all__ = [
    "AccessToken",
    "Acknowledgement",
    "ActionCause",
    "ActionEvidence",
    "Activity",
    "ActivityHardware",
    "Anomaly",
    "AnomalyHardware",
    "AnomalyLink",
    "BoardSeat",
    "Cause",
    "CauseEvidence",
    "CauseFinding",
    "Concurrence",
    "Constraint",
    "CorrectiveAction",
    "CrewAssignment",
    "Evidence",
    "EvidenceOpening",
    "Finding",
    "FindingEvidence",
    "HardwareItem",
    "HardwareType",
    "Installation",
    "LedgerEntry",
    "LedgerHead",
    "MailChoice",
    "NoticeMark",
    "NumberSeries",
    "PasswordTries",
    "PersonalNotice",
    "Procedure",
    "ProcedureRevision",
    "ProcedureUse",
    "SavedView",
    "SearchText",
    "SignOff",
    "TelemetrySeries",
    "TimelineEntry",
    "TokenUse",
]
