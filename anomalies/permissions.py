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

VIEW = ("view_activity", "view_hardwareitem", "view_anomaly")
KEEP_HARDWARE = ("add_hardwareitem", "change_hardwareitem")
RUN_ACTIVITIES = ("add_activity", "change_activity")

ROLES: dict[str, tuple[str, ...]] = {
    RECORDER: (*VIEW, "add_anomaly"),
    BOARD_MEMBER: (*VIEW, "add_anomaly", "change_anomaly"),
    SAFETY_ENGINEER: (*VIEW, "add_anomaly", "change_anomaly", "screen_anomaly", "constrain_anomaly"),
    ACTION_OWNER: VIEW,
    VERIFIER: VIEW,
    ACTIVITY_LEAD: (*VIEW, *RUN_ACTIVITIES, *KEEP_HARDWARE, "add_anomaly"),
    VIEWER: VIEW,
    ADMINISTRATOR: (*VIEW, *RUN_ACTIVITIES, *KEEP_HARDWARE),
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
