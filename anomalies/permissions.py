"""Who may do what to records. Rules ask for Django permissions; roles are groups that hold some of them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from anomalies.states import AnomalyState
from config.kit.permissions import rule

RECORDER = "recorder"
BOARD_MEMBER = "board member"
SAFETY_ENGINEER = "safety engineer"
ACTION_OWNER = "action owner"
VERIFIER = "verifier"
ACTIVITY_LEAD = "activity lead"
VIEWER = "viewer"
ADMINISTRATOR = "administrator"

VIEW = ("view_activity", "view_hardwareitem", "view_anomaly", "view_procedure", "view_correctiveaction")
KEEP_HARDWARE = ("add_hardwareitem", "change_hardwareitem")
RUN_ACTIVITIES = ("add_activity", "change_activity", "change_requirement")
REVIEW = ("change_readinessreview", "sign_readinessreview")
TEACH = ("add_lesson", "change_lesson")
WRITE_PROCEDURES = ("add_procedure", "change_procedure")
INVESTIGATE = ("add_evidence", "add_finding", "add_cause", "add_correctiveaction", "commit_correctiveaction")

ROLES: dict[str, tuple[str, ...]] = {
    RECORDER: (*VIEW, "add_anomaly", "add_evidence"),
    BOARD_MEMBER: (*VIEW, "add_anomaly", "change_anomaly", "change_boardmeeting", *TEACH, *INVESTIGATE),
    SAFETY_ENGINEER: (
        *VIEW,
        "add_anomaly",
        "change_anomaly",
        "screen_anomaly",
        "constrain_anomaly",
        "close_anomaly",
        "accept_risk",
        "quantify_risk",
        "log_exposure",
        "change_boardmeeting",
        *REVIEW,
        *TEACH,
        *INVESTIGATE,
        *WRITE_PROCEDURES,
        "approve_procedure",
    ),
    ACTION_OWNER: (*VIEW, "add_evidence", "add_correctiveaction", "do_correctiveaction", *WRITE_PROCEDURES),
    VERIFIER: (*VIEW, "add_evidence", "verify_correctiveaction", "approve_procedure"),
    ACTIVITY_LEAD: (
        *VIEW,
        *RUN_ACTIVITIES,
        *KEEP_HARDWARE,
        *REVIEW,
        *TEACH,
        "log_exposure",
        "add_anomaly",
        "add_evidence",
        "add_correctiveaction",
        "do_correctiveaction",
        *WRITE_PROCEDURES,
        "release_procedure",
    ),
    VIEWER: VIEW,
    ADMINISTRATOR: (*VIEW, *RUN_ACTIVITIES, *KEEP_HARDWARE, "log_exposure", "release_procedure"),
}
"""Each role of this app with its permissions, by code name."""


def _needs(code: str, *names: str) -> None:
    """Register rules that only ask for one Django permission."""

    def build(name: str) -> Callable[[Any, Any], bool]:
        def may(actor: Any, record: Any) -> bool:
            return bool(actor.has_perm(f"anomalies.{code}"))

        may.__qualname__ = f"may_{name}"
        return may

    for name in names:
        rule(name)(build(name))


_needs("view_activity", "activity.view")
_needs("add_activity", "activity.plan")
_needs("change_activity", "activity.edit", "activity.start", "activity.scrub")
_needs("change_activity", "activity.complete", "activity.end_early")
_needs("view_hardwareitem", "hardware.view")
_needs("add_hardwareitem", "hardware.add", "hardware_type.add")
_needs("change_hardwareitem", "hardware.edit", "hardware.install", "hardware.remove", "installation.end")
_needs("change_hardwareitem", "hardware.quarantine", "hardware.release", "hardware.retire")
_needs("view_anomaly", "anomaly.view")
_needs("add_anomaly", "anomaly.report")
_needs("screen_anomaly", "anomaly.screen", "anomaly.dismiss", "anomaly.restore", "anomaly.reassess", "anomaly.assign")
_needs("constrain_anomaly", "anomaly.constrain", "constraint.resolve", "constraint.reinstate")
_needs("change_anomaly", "anomaly.link", "anomaly.lead", "link.withdraw")
_needs("add_evidence", "anomaly.gather")
_needs("close_anomaly", "anomaly.close")
_needs("accept_risk", "anomaly.accept_unexplained", "anomaly.retract_acceptance")
_needs("change_anomaly", "anomaly.reopen", "anomaly.sit")
_needs("view_anomaly", "anomaly.investigate", "evidence.open")  # each move below asks for more
_needs("add_finding", "finding.propose", "finding.adopt", "finding.send_back")
_needs("add_cause", "cause.state", "cause.edit", "cause.find_credible", "cause.rule_out", "cause.confirm")
_needs("add_cause", "cause.reconsider")
_needs("view_correctiveaction", "action.view")
_needs("add_correctiveaction", "action.propose", "action.own")
_needs("commit_correctiveaction", "action.commit", "action.recommit", "action.drop", "action.reopen")
_needs("commit_correctiveaction", "action.find_effective")
_needs("add_cause", "investigation.open", "investigation.judge", "investigation.weigh", "investigation.take_up")
_needs("add_cause", "investigation.plan_inspection", "investigation.set_time", "investigation.conclude")
_needs("add_cause", "investigation.resume", "bearing.withdraw")
_needs("add_cause", "inspection.edit", "inspection.carry_out", "inspection.drop")
_needs("commit_correctiveaction", "action.state_effect", "action.tie", "effect.withdraw", "action_tie.withdraw")
_needs("quantify_risk", "investigation.take_baseline", "failure_mode.add", "failure_mode.edit")
_needs("quantify_risk", "parameter_update.propose", "parameter_update.accept", "parameter_update.refuse")
_needs("quantify_risk", "parameter_update.withdraw")
_needs("log_exposure", "exposure.enter", "exposure.withdraw")
_needs("change_anomaly", "occurrence.name")
_needs("change_requirement", "requirement.add", "requirement.edit", "requirement.retire", "requirement.restore")
_needs("change_requirement", "standard_position.set")
_needs("add_evidence", "fulfilment.record")
_needs("change_readinessreview", "readiness_review.open", "readiness_review.resume", "poll_position.set")
_needs("change_readinessreview", "poll_answer.settle", "brief_share.make", "brief_share.revoke")
_needs("sign_readinessreview", "readiness_review.conclude")
_needs("accept_risk", "waiver.grant", "waiver.withdraw")
_needs("add_lesson", "lesson.add")
_needs("change_lesson", "lesson.edit", "lesson.place", "lesson.retire", "lesson.restore")
_needs("add_correctiveaction", "lesson.decide", "lesson_use.tie", "lesson_use.withdraw")
_needs("change_boardmeeting", "board_meeting.plan", "board_meeting.edit", "board_meeting.attend", "board_meeting.open")
_needs("change_boardmeeting", "board_meeting.decide", "board_meeting.end", "board_meeting.cancel")
_needs("change_boardmeeting", "meeting_decision.withdraw")
_needs("view_procedure", "procedure.view", "procedure_revision.acknowledge")
_needs("add_procedure", "procedure.add")
_needs("change_procedure", "procedure.edit", "procedure.draft", "procedure_revision.edit", "procedure_revision.submit")
_needs("release_procedure", "procedure_revision.release", "procedure_revision.supersede")


@rule("anomaly.edit")
def may_edit_anomaly(actor: Any, anomaly: Any) -> bool:
    """A draft: its recorder. Until it is screened: its recorder, and who may change anomalies. Then the latter."""
    own = anomaly.recorded_by_id == actor.pk and actor.has_perm("anomalies.add_anomaly")
    if anomaly.state == AnomalyState.DRAFT:
        return bool(own)
    return bool(actor.has_perm("anomalies.change_anomaly") or (own and anomaly.state == AnomalyState.REPORTED))


@rule("anomaly.submit")
@rule("anomaly.discard")
def may_finish_draft(actor: Any, anomaly: Any) -> bool:
    """The recorder of the draft, and nobody else."""
    return bool(anomaly.recorded_by_id == actor.pk and actor.has_perm("anomalies.add_anomaly"))


@rule("anomaly.seat")
def may_seat(actor: Any, anomaly: Any) -> bool:
    """Who screens anomalies, and the lead of this one."""
    return bool(actor.has_perm("anomalies.screen_anomaly") or anomaly.lead_id == actor.pk)


@rule("evidence.describe")
@rule("evidence.withdraw")
@rule("timeline_entry.edit")
@rule("timeline_entry.withdraw")
def may_correct(actor: Any, record: Any) -> bool:
    """Who added it, and who may change anomalies."""
    own = record.added_by_id == actor.pk and actor.has_perm("anomalies.add_evidence")
    return bool(own or actor.has_perm("anomalies.change_anomaly"))


@rule("finding.edit")
@rule("finding.withdraw")
def may_rework_finding(actor: Any, finding: Any) -> bool:
    """Its author, and the lead of the anomaly."""
    return bool(actor.has_perm("anomalies.add_finding") and actor.pk in (finding.author_id, finding.anomaly.lead_id))


@rule("finding.state_position")
def may_state_position(actor: Any, finding: Any) -> bool:
    """Members of the anomaly's board."""
    return actor.pk in finding.anomaly.seated


@rule("action.edit")
def may_edit_action(actor: Any, action: Any) -> bool:
    """Its owner, who proposed it, and who may commit actions."""
    own = actor.pk in (action.owner_id, action.proposed_by_id) and actor.has_perm("anomalies.add_correctiveaction")
    return bool(own or actor.has_perm("anomalies.commit_correctiveaction"))


@rule("action.do")
def may_do_action(actor: Any, action: Any) -> bool:
    """Its owner, and who may record for others that an action was done."""
    return bool(actor.has_perm("anomalies.do_correctiveaction") or action.owner_id == actor.pk)


@rule("action.verify")
def may_verify_action(actor: Any, action: Any) -> bool:
    """Who may verify actions, unless they own this one or did it."""
    return bool(
        actor.has_perm("anomalies.verify_correctiveaction") and actor.pk not in (action.owner_id, action.doer_id)
    )


@rule("action.send_back")
def may_send_back_action(actor: Any, action: Any) -> bool:
    """Who may verify it, and who may commit actions."""
    return may_verify_action(actor, action) or bool(actor.has_perm("anomalies.commit_correctiveaction"))


@rule("readiness_review.view")
def may_view_readiness(actor: Any, record: Any) -> bool:
    """Who may see all that the list is made of."""
    views = ("activity", "hardwareitem", "anomaly", "procedure", "correctiveaction")
    return all(actor.has_perm(f"anomalies.view_{name}") for name in views)


@rule("lesson.issue")
def may_issue_lesson(actor: Any, lesson: Any) -> bool:
    """Who may change lessons, but not who wrote this one."""
    return bool(actor.has_perm("anomalies.change_lesson") and actor.pk != lesson.author_id)


@rule("fulfilment.withdraw")
def may_withdraw_fulfilment(actor: Any, fulfilment: Any) -> bool:
    """Who recorded it, and who runs activities."""
    own = fulfilment.recorded_by_id == actor.pk and actor.has_perm("anomalies.add_evidence")
    return bool(own or actor.has_perm("anomalies.change_activity"))


@rule("poll_position.answer")
def may_answer_poll(actor: Any, position: Any) -> bool:
    """The person who holds the position; nobody speaks for another."""
    holds = position is not None and position.active and position.person_id == actor.pk
    return bool(holds and actor.has_perm("anomalies.view_activity"))


@rule("access_token.make")
@rule("calendar_key.make")
def may_make_token(actor: Any, record: Any) -> bool:
    """Everybody with an account: a token can do no more than they can, a calendar shows no more than they may see."""
    return actor.pk is not None


@rule("access_token.revoke")
@rule("calendar_key.revoke")
def may_revoke_token(actor: Any, token: Any) -> bool:
    """Its owner. Closing an account stops all of its tokens and calendars."""
    return bool(token.owner_id == actor.pk)


@rule("procedure_revision.approve")
def may_approve_revision(actor: Any, revision: Any) -> bool:
    """Who may approve procedures, unless they wrote any of this revision."""
    return bool(actor.has_perm("anomalies.approve_procedure") and not revision.was_written_by(actor))


@rule("procedure_revision.send_back")
def may_send_back_revision(actor: Any, revision: Any) -> bool:
    """Who may approve it, and who may write it."""
    return bool(actor.has_perm("anomalies.approve_procedure") or actor.has_perm("anomalies.change_procedure"))


@rule("procedure_revision.withdraw")
def may_withdraw_revision(actor: Any, revision: Any) -> bool:
    """Until it is released: who may write it. Then: who may release it."""
    return bool(actor.has_perm(f"anomalies.{'release' if revision.released_at else 'change'}_procedure"))
