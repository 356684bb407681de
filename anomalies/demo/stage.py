"""Where the stories play: the people, the moments counted from today, and short ways to what every story does."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from heapq import heapify, heappop, heappush
from typing import Any, TypeAlias

from django.contrib.auth.models import User
from django.core.files.uploadedfile import SimpleUploadedFile

from anomalies.clock import now, pretending
from anomalies.models import Activity, Anomaly, Cause, CorrectiveAction, Evidence, Finding, HardwareItem
from anomalies.services.action_work import do_action
from anomalies.services.actions import commit_action, propose_action
from anomalies.services.anomalies import report_anomaly
from anomalies.services.board import seat_member
from anomalies.services.causes import confirm_cause, rule_out_cause, state_cause
from anomalies.services.closing import close_anomaly
from anomalies.services.evidence import add_evidence
from anomalies.services.findings import adopt_finding, propose_finding, state_position
from anomalies.services.screening import screen_anomaly
from anomalies.services.sign_off import PasswordProof
from anomalies.services.timeline import add_timeline_entry
from anomalies.services.verification import verify_action

Story: TypeAlias = Iterator[datetime]
"""Yields a moment, and plays on as if it were that moment, until it yields the next one."""


def play(stories: Iterable[Story]) -> None:
    """Play all stories at once, always the one whose next moment comes first, as they would have happened.

    What comes before something that was played is played right after it: time doesn't go back in a ledger.
    """
    waiting = [(next(story), place, story) for place, story in enumerate(stories)]
    heapify(waiting)
    last = min(moment for moment, _, _ in waiting)
    while waiting:
        moment, place, story = heappop(waiting)
        last = max(last, moment)
        with pretending(last):
            following = next(story, None)
        if following is not None:
            heappush(waiting, (following, place, story))


class Stage:
    """The people by their log-in, the items by serial, the activities by title; and the clock."""

    def __init__(self, people: dict[str, User], today: datetime) -> None:
        self.people = people
        self.today = today.replace(hour=0, minute=0, second=0, microsecond=0)
        self.items: dict[str, HardwareItem] = {}
        self.activities: dict[str, Activity] = {}
        self.anomalies: dict[str, Anomaly] = {}

    def when(self, day: float, hour: float = 9.0) -> datetime:
        """Return a moment: days from today, then hours."""
        return self.today + timedelta(days=day, hours=hour)

    def sign(self, who: str) -> PasswordProof:
        """The people of a play sign without a password: nobody else can log in as them before it is loaded."""
        return PasswordProof(self.people[who].pk, now())

    # --- What every story does ---------------------------------------------------------------------------------

    def report(
        self, who: str, title: str, seen: datetime, *, sortie: str = "", serials: Sequence[str] = (), **story: Any
    ) -> Anomaly:
        """Report an anomaly."""
        activity = self.activities[sortie].pk if sortie else None
        items = [self.items[serial].pk for serial in serials]
        given: dict[str, Any] = {"activity_id": activity, "hardware_ids": items} | story
        return report_anomaly(actor=self.people[who], title=title, occurred_at=seen, **given)

    def screen(self, anomaly: Anomaly, severity: int, probability: str, why: str, lead: str = "hollin") -> Anomaly:
        """Screen it, and seat a board of two."""
        engineer, lead_id = self.people["engineer"], self.people[lead].pk
        risk: dict[str, Any] = {"severity": severity, "probability": probability, "rationale": why}
        screened = screen_anomaly(anomaly_id=anomaly.pk, actor=engineer, lead_id=lead_id, **risk)
        for member in ("hollin", "anselm"):
            seat_member(anomaly_id=anomaly.pk, actor=engineer, person_id=self.people[member].pk)
        return screened

    def statement(self, anomaly: Anomaly, who: str, title: str, by: str, text: str, **more: Any) -> Evidence:
        """Add what somebody said."""
        given: dict[str, Any] = {"kind": "statement", "title": title, "stated_by": by, "statement": text} | more
        return add_evidence(anomaly_id=anomaly.pk, actor=self.people[who], **given)

    def document(self, anomaly: Anomaly, who: str, title: str, name: str, text: str, **more: Any) -> Evidence:
        """Add a report as a file of text."""
        file = SimpleUploadedFile(name, text.strip().encode() + b"\n")
        given: dict[str, Any] = {"kind": "document", "title": title, "file": file} | more
        return add_evidence(anomaly_id=anomaly.pk, actor=self.people[who], **given)

    def tell(
        self, anomaly: Anomaly, who: str, *entries: tuple[datetime, str], evidence: Evidence | None = None
    ) -> None:
        """Add to the timeline."""
        key = evidence.pk if evidence else None
        for at, text in entries:
            given: dict[str, Any] = {"anomaly_id": anomaly.pk, "actor": self.people[who], "evidence_id": key}
            add_timeline_entry(at=at, text=text, **given)

    def find(
        self, anomaly: Anomaly, text: str, *evidence: Evidence, kind: str = "finding", dissent: str = ""
    ) -> Finding:
        """Have the board adopt a finding; the second member dissents if there are grounds."""
        keys = [each.pk for each in evidence]
        first, second = self.people["hollin"], self.people["anselm"]
        finding = propose_finding(anomaly_id=anomaly.pk, actor=first, kind=kind, statement=text, evidence_ids=keys)
        state_position(finding_id=finding.pk, actor=first, stand="concurs", wording=1)
        stand = "dissents" if dissent else "concurs"
        state_position(finding_id=finding.pk, actor=second, stand=stand, text=dissent, wording=1)
        return adopt_finding(finding_id=finding.pk, actor=first, version=finding.version, proof=self.sign("hollin"))

    def cause(
        self, anomaly: Anomaly, kind: str, text: str, *findings: Finding, above: Cause | None = None, **more: Any
    ) -> Cause:
        """State a cause."""
        given: dict[str, Any] = {
            "finding_ids": [each.pk for each in findings],
            "parent_id": above.pk if above else None,
        } | more
        return state_cause(anomaly_id=anomaly.pk, actor=self.people["hollin"], kind=kind, statement=text, **given)

    def confirm(self, cause: Cause, why: str, *evidence: Evidence) -> Cause:
        """Confirm a cause."""
        given: dict[str, Any] = {
            "version": cause.version,
            "rationale": why,
            "evidence_ids": [each.pk for each in evidence],
        }
        return confirm_cause(cause_id=cause.pk, actor=self.people["hollin"], **given)

    def rule_out(self, cause: Cause, why: str, *evidence: Evidence) -> Cause:
        """Rule a cause out."""
        given: dict[str, Any] = {
            "version": cause.version,
            "rationale": why,
            "evidence_ids": [each.pk for each in evidence],
        }
        return rule_out_cause(cause_id=cause.pk, actor=self.people["hollin"], **given)

    def act(
        self, kind: str, title: str, criteria: str, *causes: Cause, days: int = 30, owner: str = "thorne", **more: Any
    ) -> CorrectiveAction:
        """Commit to an action."""
        keys = [cause.pk for cause in causes]
        member = self.people["hollin"]
        action = propose_action(
            anomaly_id=causes[0].anomaly_id,
            actor=member,
            kind=kind,
            title=title,
            cause_ids=keys,
            acceptance_criteria=criteria,
            **more,
        )
        due_on = (now() + timedelta(days=days)).date()
        return commit_action(
            action_id=action.pk, actor=member, version=action.version, owner_id=self.people[owner].pk, due_on=due_on
        )

    def done(self, action: CorrectiveAction, note: str, owner: str = "thorne", **more: Any) -> CorrectiveAction:
        """Record it as done."""
        return do_action(action_id=action.pk, actor=self.people[owner], version=action.version, note=note, **more)

    def verified(self, action: CorrectiveAction, note: str, *evidence: Evidence) -> CorrectiveAction:
        """Have it verified."""
        given: dict[str, Any] = {
            "version": action.version,
            "note": note,
            "evidence_ids": [each.pk for each in evidence],
        }
        return verify_action(action_id=action.pk, actor=self.people["corvo"], proof=self.sign("corvo"), **given)

    def close(self, anomaly: Anomaly, statement: str) -> Anomaly:
        """Close it."""
        version = anomaly.reread().version
        given: dict[str, Any] = {
            "anomaly_id": anomaly.pk,
            "actor": self.people["engineer"],
            "proof": self.sign("engineer"),
        }
        return close_anomaly(version=version, statement=statement, **given)
