"""The life of every kind of record, on one screen: buttons, API and tests read it from here.

A move that leads back to where it started changes the record but not its state; it's in the table because it isn't
allowed in every state. Each move has a rule `<kind>.<move>` in permissions.py.
"""

from __future__ import annotations

from typing import Any

from anomalies.state_names import (
    ActionState,
    ActivityState,
    AnomalyState,
    BearingState,
    CauseState,
    ConstraintState,
    DecisionState,
    EffectState,
    EvidenceState,
    ExposureState,
    FindingState,
    FulfilmentState,
    HardwareState,
    InspectionState,
    InstallationState,
    InvestigationState,
    LessonState,
    LessonUseState,
    LinkState,
    MeetingState,
    RequirementState,
    ReviewState,
    RevisionState,
    TieState,
    TimelineState,
    TokenState,
    UpdateState,
    WaiverState,
)
from config.kit.transitions import Machine, Move

__all__ = [
    "ACTION",
    "ACTION_TIE",
    "ACTIVITY",
    "ANOMALY",
    "BEARING",
    "BOARD_MEETING",
    "CAUSE",
    "CONSTRAINT",
    "EFFECT",
    "EVIDENCE",
    "EXPOSURE",
    "FINDING",
    "FREE",
    "FULFILMENT",
    "GATES",
    "HARDWARE",
    "INSPECTION",
    "INSTALLATION",
    "INVESTIGATION",
    "LESSON",
    "LESSON_USE",
    "LINK",
    "MEETING_DECISION",
    "PARAMETER_UPDATE",
    "PROCEDURE_REVISION",
    "READINESS_REVIEW",
    "REQUIREMENT",
    "TIMELINE_ENTRY",
    "TOKEN",
    "WAIVER",
    "WITHIN",
    "ActionState",
    "ActivityState",
    "AnomalyState",
    "BearingState",
    "CauseState",
    "ConstraintState",
    "DecisionState",
    "EffectState",
    "EvidenceState",
    "ExposureState",
    "FindingState",
    "FulfilmentState",
    "HardwareState",
    "InspectionState",
    "InstallationState",
    "InvestigationState",
    "LessonState",
    "LessonUseState",
    "LinkState",
    "MeetingState",
    "RequirementState",
    "ReviewState",
    "RevisionState",
    "TieState",
    "TimelineState",
    "TokenState",
    "UpdateState",
    "WaiverState",
    "find_gate",
    "passes_gate",
]

A = ActivityState
ACTIVITY = Machine(
    Move("edit", A.PLANNED, A.PLANNED),
    Move("edit", A.UNDER_WAY, A.UNDER_WAY),
    Move("start", A.PLANNED, A.UNDER_WAY),
    Move("scrub", A.PLANNED, A.SCRUBBED),
    Move("complete", A.UNDER_WAY, A.COMPLETED),
    Move("end_early", A.UNDER_WAY, A.ENDED_EARLY),
)

H = HardwareState
HARDWARE = Machine(
    Move("edit", H.IN_SERVICE, H.IN_SERVICE),
    Move("edit", H.QUARANTINED, H.QUARANTINED),
    Move("install", H.IN_SERVICE, H.IN_SERVICE),
    Move("remove", H.IN_SERVICE, H.IN_SERVICE),
    Move("remove", H.QUARANTINED, H.QUARANTINED),
    Move("quarantine", H.IN_SERVICE, H.QUARANTINED),
    Move("release", H.QUARANTINED, H.IN_SERVICE),
    Move("retire", H.IN_SERVICE, H.RETIRED),
    Move("retire", H.QUARANTINED, H.RETIRED),
)

N = AnomalyState
ANOMALY = Machine(
    Move("edit", N.DRAFT, N.DRAFT),
    Move("edit", N.REPORTED, N.REPORTED),
    Move("edit", N.OPEN, N.OPEN),
    Move("submit", N.DRAFT, N.REPORTED),
    Move("discard", N.DRAFT, N.DISCARDED),
    Move("screen", N.REPORTED, N.OPEN),
    Move("dismiss", N.REPORTED, N.DISMISSED),
    Move("restore", N.DISMISSED, N.REPORTED),
    Move("reassess", N.OPEN, N.OPEN),
    Move("assign", N.OPEN, N.OPEN),
    Move("constrain", N.REPORTED, N.REPORTED),
    Move("constrain", N.OPEN, N.OPEN),
    Move("link", N.REPORTED, N.REPORTED),
    Move("link", N.OPEN, N.OPEN),
    Move("link", N.DISMISSED, N.DISMISSED),
    Move("link", N.CLOSED, N.CLOSED),
    Move("gather", N.REPORTED, N.REPORTED),  # evidence and the timeline
    Move("gather", N.OPEN, N.OPEN),
    Move("seat", N.OPEN, N.OPEN),  # the board
    Move("investigate", N.OPEN, N.OPEN),  # findings, causes and actions: every move of theirs needs this one too
    Move("accept_unexplained", N.OPEN, N.OPEN),
    Move("retract_acceptance", N.OPEN, N.OPEN),
    Move("close", N.OPEN, N.CLOSED),
    Move("reopen", N.CLOSED, N.OPEN),
)

C = ConstraintState
CONSTRAINT = Machine(Move("resolve", C.IN_FORCE, C.RESOLVED), Move("reinstate", C.RESOLVED, C.IN_FORCE))

L = LinkState
LINK = Machine(Move("withdraw", L.STANDING, L.WITHDRAWN))

I = InstallationState  # noqa: E741
INSTALLATION = Machine(Move("end", I.INSTALLED, I.REMOVED))

E = EvidenceState
EVIDENCE = Machine(
    Move("describe", E.HELD, E.HELD),
    Move("open", E.HELD, E.HELD),
    Move("open", E.WITHDRAWN, E.WITHDRAWN),
    Move("withdraw", E.HELD, E.WITHDRAWN),
)

T = TimelineState
TIMELINE_ENTRY = Machine(Move("edit", T.STANDING, T.STANDING), Move("withdraw", T.STANDING, T.WITHDRAWN))

F = FindingState
FINDING = Machine(
    Move("edit", F.PROPOSED, F.PROPOSED),
    Move("state_position", F.PROPOSED, F.PROPOSED),
    Move("state_position", F.ADOPTED, F.ADOPTED),
    Move("adopt", F.PROPOSED, F.ADOPTED),
    Move("send_back", F.ADOPTED, F.PROPOSED),
    Move("withdraw", F.PROPOSED, F.WITHDRAWN),
    Move("withdraw", F.ADOPTED, F.WITHDRAWN),
)

U = CauseState
CAUSE = Machine(
    Move("edit", U.OPEN, U.OPEN),
    Move("find_credible", U.OPEN, U.CREDIBLE),
    Move("rule_out", U.OPEN, U.RULED_OUT),
    Move("rule_out", U.CREDIBLE, U.RULED_OUT),
    Move("confirm", U.OPEN, U.CONFIRMED),
    Move("confirm", U.CREDIBLE, U.CONFIRMED),
    Move("reconsider", U.CREDIBLE, U.OPEN),
    Move("reconsider", U.RULED_OUT, U.OPEN),
    Move("reconsider", U.CONFIRMED, U.OPEN),
)

O = ActionState  # noqa: E741
ACTION = Machine(
    Move("edit", O.PROPOSED, O.PROPOSED),
    Move("edit", O.COMMITTED, O.COMMITTED),
    Move("commit", O.PROPOSED, O.COMMITTED),
    Move("recommit", O.COMMITTED, O.COMMITTED),  # another owner, date or criteria
    Move("do", O.COMMITTED, O.DONE),
    Move("send_back", O.DONE, O.COMMITTED),
    Move("verify", O.DONE, O.VERIFIED),
    Move("find_effective", O.VERIFIED, O.EFFECTIVE),
    Move("state_effect", O.PROPOSED, O.PROPOSED),
    Move("state_effect", O.COMMITTED, O.COMMITTED),
    Move("state_effect", O.DONE, O.DONE),
    Move("state_effect", O.VERIFIED, O.VERIFIED),
    Move("tie", O.PROPOSED, O.PROPOSED),
    Move("tie", O.COMMITTED, O.COMMITTED),
    Move("drop", O.PROPOSED, O.DROPPED),
    Move("drop", O.COMMITTED, O.DROPPED),
    Move("reopen", O.VERIFIED, O.COMMITTED),
    Move("reopen", O.EFFECTIVE, O.COMMITTED),
    Move("reopen", O.DROPPED, O.PROPOSED),
)

V = RevisionState
PROCEDURE_REVISION = Machine(
    Move("edit", V.DRAFTED, V.DRAFTED),
    Move("submit", V.DRAFTED, V.SUBMITTED),
    Move("send_back", V.SUBMITTED, V.DRAFTED),
    Move("send_back", V.APPROVED, V.DRAFTED),
    Move("approve", V.SUBMITTED, V.APPROVED),
    Move("release", V.APPROVED, V.RELEASED),
    Move("supersede", V.RELEASED, V.SUPERSEDED),
    Move("acknowledge", V.RELEASED, V.RELEASED),
    Move("acknowledge", V.SUPERSEDED, V.SUPERSEDED),
    Move("withdraw", V.DRAFTED, V.WITHDRAWN),
    Move("withdraw", V.SUBMITTED, V.WITHDRAWN),
    Move("withdraw", V.APPROVED, V.WITHDRAWN),
    Move("withdraw", V.RELEASED, V.WITHDRAWN),
    Move("withdraw", V.SUPERSEDED, V.WITHDRAWN),
)

K = TokenState
TOKEN = Machine(Move("revoke", K.USABLE, K.REVOKED))

G = InvestigationState
INVESTIGATION = Machine(
    Move("judge", G.UNDER_WAY, G.UNDER_WAY),
    Move("weigh", G.UNDER_WAY, G.UNDER_WAY),  # what evidence says of an event
    Move("plan_inspection", G.UNDER_WAY, G.UNDER_WAY),
    Move("set_time", G.UNDER_WAY, G.UNDER_WAY),
    Move("take_up", G.UNDER_WAY, G.UNDER_WAY),  # a newer revision of its tree
    Move("conclude", G.UNDER_WAY, G.CONCLUDED),
    Move("resume", G.CONCLUDED, G.UNDER_WAY),
    Move("take_baseline", G.UNDER_WAY, G.UNDER_WAY),
    Move("take_baseline", G.CONCLUDED, G.CONCLUDED),
)

Z = InspectionState
INSPECTION = Machine(
    Move("edit", Z.POSSIBLE, Z.POSSIBLE),
    Move("carry_out", Z.POSSIBLE, Z.CARRIED_OUT),
    Move("drop", Z.POSSIBLE, Z.DROPPED),
)

BEARING = Machine(Move("withdraw", BearingState.STANDING, BearingState.WITHDRAWN))
EFFECT = Machine(Move("withdraw", EffectState.STANDING, EffectState.WITHDRAWN))
ACTION_TIE = Machine(Move("withdraw", TieState.STANDING, TieState.WITHDRAWN))
EXPOSURE = Machine(Move("withdraw", ExposureState.STANDING, ExposureState.WITHDRAWN))

J = UpdateState
PARAMETER_UPDATE = Machine(
    Move("accept", J.PROPOSED, J.ACCEPTED),
    Move("refuse", J.PROPOSED, J.REFUSED),
    Move("withdraw", J.PROPOSED, J.WITHDRAWN),
)

REQUIREMENT = Machine(
    Move("edit", RequirementState.IN_USE, RequirementState.IN_USE),
    Move("retire", RequirementState.IN_USE, RequirementState.RETIRED),
    Move("restore", RequirementState.RETIRED, RequirementState.IN_USE),
)
FULFILMENT = Machine(Move("withdraw", FulfilmentState.STANDING, FulfilmentState.WITHDRAWN))
READINESS_REVIEW = Machine(
    Move("conclude", ReviewState.UNDER_WAY, ReviewState.SIGNED),
    Move("resume", ReviewState.SIGNED, ReviewState.UNDER_WAY),
)
WAIVER = Machine(Move("withdraw", WaiverState.STANDING, WaiverState.WITHDRAWN))

Y = LessonState
LESSON = Machine(
    Move("edit", Y.DRAFTED, Y.DRAFTED),
    Move("place", Y.DRAFTED, Y.DRAFTED),  # say where it applies
    Move("place", Y.ISSUED, Y.ISSUED),
    Move("issue", Y.DRAFTED, Y.ISSUED),
    Move("decide", Y.ISSUED, Y.ISSUED),  # accept or decline it where it's offered
    Move("retire", Y.DRAFTED, Y.RETIRED),
    Move("retire", Y.ISSUED, Y.RETIRED),
    Move("restore", Y.RETIRED, Y.DRAFTED),
)
LESSON_USE = Machine(
    Move("tie", LessonUseState.STANDING, LessonUseState.STANDING),
    Move("withdraw", LessonUseState.STANDING, LessonUseState.WITHDRAWN),
)


M = MeetingState
BOARD_MEETING = Machine(
    Move("edit", M.PLANNED, M.PLANNED),
    Move("attend", M.PLANNED, M.PLANNED),  # who is expected
    Move("attend", M.UNDER_WAY, M.UNDER_WAY),
    Move("open", M.PLANNED, M.UNDER_WAY),
    Move("decide", M.UNDER_WAY, M.UNDER_WAY),
    Move("end", M.UNDER_WAY, M.HELD),
    Move("cancel", M.PLANNED, M.CANCELLED),
)
MEETING_DECISION = Machine(Move("withdraw", DecisionState.STANDING, DecisionState.WITHDRAWN))

GATES = {
    "action": "investigate",
    "action_tie": "investigate",
    "bearing": "investigate",
    "cause": "investigate",
    "effect": "investigate",
    "inspection": "investigate",
    "investigation": "investigate",
    "evidence": "gather",
    "finding": "investigate",
    "timeline_entry": "gather",
}
"""Kind of a part of an anomaly -> the move that the anomaly itself must allow, or no move of the part is made."""
WITHIN = {"bearing": "weigh", "inspection": "plan_inspection"}
"""Kind of a part of an investigation -> the move that the investigation must allow, or no move of the part is made."""
FREE = {("action", "find_effective"), ("evidence", "open"), ("investigation", "take_baseline")}
"""Moves that need no gate: they can be made on a closed anomaly."""


def find_gate(kind: str, move: str) -> str:
    """Return the move that the anomaly of a record of this kind must allow for this one; "" if none."""
    return "" if (kind, move) in FREE else GATES.get(kind, "")


def passes_gate(record: Any, move: str) -> bool:
    """Tell whether the anomaly and the investigation allow the move, if the record is a part of them."""
    within = WITHIN.get(record.KIND)
    if within and within not in INVESTIGATION.names_from(record.investigation.state):
        return False
    gate = find_gate(record.KIND, move)
    return not gate or gate in ANOMALY.names_from(record.anomaly.state)
