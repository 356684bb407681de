"""Activities and anomalies along a calendar, made with the services, for the trends."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

from anomalies.clock import pretending
from anomalies.models import Activity, Anomaly, AnomalyLink, Cause
from anomalies.reads.trends.filter import TrendFilter
from anomalies.reads.trends.page import Trends, read_trends
from anomalies.services.actions import commit_action
from anomalies.services.activities import add_activity_hardware, complete_activity, start_activity
from anomalies.services.causes import confirm_cause
from anomalies.services.closing import close_anomaly
from anomalies.services.ties import link_anomalies
from anomalies.services.unexplained import accept_unexplained
from tests.anomalies.actions import make_proposed, owner
from tests.anomalies.files import make_evidence
from tests.anomalies.investigation import make_cause
from tests.anomalies.people import (
    activity_lead,
    board_member,
    make_activity,
    make_open,
    make_reported,
    safety_engineer,
    viewer,
)
from tests.anomalies.procedures import prove

START = datetime(2023, 1, 1, tzinfo=UTC)
NOW = datetime(2024, 1, 1, tzinfo=UTC)


def day(days: float, hours: float = 0.0) -> datetime:
    """So long after the start of 2023."""
    return START + timedelta(days=days, hours=hours)


def hold(at: datetime, hours: float = 6.0, *, items: Any = (), over: bool = True, **changes: Any) -> Activity:
    """An activity that was held, with items of hardware; not over: it's still under way."""
    given = {"planned_start": at, "planned_end": at + timedelta(hours=hours)}
    activity, lead = make_activity(**given | changes), activity_lead()
    for item in items:
        add_activity_hardware(activity_id=activity.pk, item_id=item.pk, actor=lead)
    start_activity(activity_id=activity.pk, actor=lead, at=at)
    if over:
        complete_activity(activity_id=activity.pk, actor=lead, at=at + timedelta(hours=hours))
    return activity


def report(at: datetime, *, screened: bool = False, **changes: Any) -> Anomaly:
    """An anomaly that occurred then, and was reported at once; one that is screened has severity 2."""
    with pretending(at):
        return (make_open if screened else make_reported)(occurred_at=at, **changes)


def close(anomaly: Anomaly, at: datetime) -> Anomaly:
    """It is closed then, unexplained."""
    with pretending(at):
        actor = safety_engineer()
        signed = {"anomaly_id": anomaly.pk, "actor": actor, "proof": prove(actor)}
        accept_unexplained(**signed, version=anomaly.reread().version, rationale="All tried.")
        return close_anomaly(**signed, version=anomaly.reread().version, statement="A worn seal.")


def confirm(anomaly: Anomaly, at: datetime, kind: str = "proximate") -> Cause:
    """A cause of it is confirmed then."""
    with pretending(at):
        cause = make_cause(anomaly, kind=kind)
        given = {"version": 1, "rationale": "Seen.", "evidence_ids": [make_evidence(anomaly).pk]}
        return confirm_cause(cause_id=cause.pk, actor=board_member(), **given)


def repeat(again: Anomaly, first: Anomaly, at: datetime, kind: str = "recurrence") -> AnomalyLink:
    """They are linked then."""
    with pretending(at):
        return link_anomalies(source_id=again.pk, target_id=first.pk, kind=kind, actor=safety_engineer())


def owe(cause: Cause, due_on: date, at: datetime) -> Any:
    """An action is committed then, due on a day."""
    with pretending(at):
        action = make_proposed(cause)
        given = {"action_id": action.pk, "actor": board_member(), "version": action.version}
        return commit_action(**given, owner_id=owner().pk, due_on=due_on)


def read(at: datetime = NOW, **asked: str) -> Trends:
    """The trends as they stand then."""
    with pretending(at):
        return read_trends(viewer(), TrendFilter.read(asked))
