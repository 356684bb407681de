"""Shapes of boards, findings and causes in the JSON API; they check and show, and never save."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from anomalies.api.anomaly_shapes import key, text
from anomalies.api.doors import ReasonIn, open_moves
from anomalies.models import BoardSeat, Cause, Concurrence, Finding
from anomalies.states import CAUSE, FINDING, CauseState, FindingState
from config.kit.addresses import LAST_KEY

VERSION = "The version that you read."


def keys(*, required: bool = False) -> serializers.ListField:
    """The ids of other records."""
    return serializers.ListField(child=key(), required=required, max_length=500)


class SeatOut(serializers.ModelSerializer[BoardSeat]):
    """Somebody who sits on the board."""

    person = serializers.CharField(source="person.username")

    class Meta:
        model = BoardSeat
        fields = ("person_id", "person")


class PersonIn(serializers.Serializer[Any]):
    """A person."""

    person_id = key()


class UnseatIn(PersonIn, ReasonIn):
    """Who leaves the board, and why."""


class PositionOut(serializers.ModelSerializer[Concurrence]):
    """Where a member of the board stands, and on which wording."""

    member = serializers.CharField(source="member.username")

    class Meta:
        model = Concurrence
        fields = ("member", "stand", "text", "wording", "stated_at")


class FindingOut(serializers.ModelSerializer[Finding]):
    """A finding, the ids of the evidence that it rests on, and every position on it."""

    anomaly = serializers.CharField(source="anomaly.number")
    label = serializers.CharField(help_text="Like F2.")  # type: ignore[assignment]
    author = serializers.CharField(source="author.username")
    evidence = serializers.SerializerMethodField()
    positions = PositionOut(source="concurrences", many=True)
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = Finding
        fields = (
            *("id", "anomaly", "label", "position", "kind", "statement", "wording", "author", "proposed_at"),
            *("evidence", "positions", "state", "state_reason", "version", "moves"),
        )

    def get_evidence(self, finding: Finding) -> list[int]:
        """Return the ids of the evidence."""
        return [row.evidence_id for row in finding.rests_on.all() if row.active]

    def get_moves(self, finding: Finding) -> list[str]:
        """Return the moves that are open."""
        return open_moves(FINDING, finding, self.context["request"].user)


class FindingFilters(serializers.Serializer[Any]):
    """Which findings are listed; what is left out lets all through."""

    anomaly = serializers.CharField(required=False, max_length=20, help_text="Number of the anomaly.")
    kind = serializers.ChoiceField(Finding.Kind.choices, required=False)
    state = serializers.ChoiceField(FindingState.choices, required=False)


class FindingIn(serializers.Serializer[Any]):
    """A finding, and the evidence that it rests on: at least one piece."""

    kind = serializers.ChoiceField(Finding.Kind.choices)
    statement = text(required=True)
    evidence_ids = keys(required=True)


class FindingChanges(serializers.Serializer[Any]):
    """Put otherwise; what is left out stays."""

    version = serializers.IntegerField(min_value=1, help_text=VERSION)
    kind = serializers.ChoiceField(Finding.Kind.choices, required=False)
    statement = serializers.CharField(max_length=50_000, required=False)


class EvidenceIdsIn(serializers.Serializer[Any]):
    """Evidence of the same anomaly."""

    version = serializers.IntegerField(min_value=1, help_text=VERSION)
    evidence_ids = keys(required=True)


class PositionIn(serializers.Serializer[Any]):
    """Where you stand, and on which wording; a dissent says why."""

    stand = serializers.ChoiceField(Concurrence.Stand.choices)
    wording = serializers.IntegerField(min_value=1, max_value=2**31 - 1, help_text="The wording that you read.")
    text = text()


class CauseOut(serializers.ModelSerializer[Cause]):
    """A cause; `parent_id` is what it led to. Findings and evidence that it stands on, by id."""

    anomaly = serializers.CharField(source="anomaly.number")
    label = serializers.CharField(help_text="Like C1.")  # type: ignore[assignment]
    author = serializers.CharField(source="author.username")
    judged_by = serializers.CharField(source="judged_by.username", allow_null=True, default=None)
    findings = serializers.SerializerMethodField()
    evidence = serializers.SerializerMethodField()
    moves = serializers.SerializerMethodField(help_text="The moves that are open to you now.")

    class Meta:
        model = Cause
        fields = (
            *("id", "anomaly", "label", "position", "kind", "statement", "parent_id", "tree_id", "event_code"),
            *("findings", "evidence", "rationale", "author", "judged_by", "judged_at", "state", "version", "moves"),
        )

    def get_findings(self, cause: Cause) -> list[int]:
        """Return the ids of the findings."""
        return [row.finding_id for row in cause.rests_on.all() if row.active]

    def get_evidence(self, cause: Cause) -> list[int]:
        """Return the ids of the evidence."""
        return [row.evidence_id for row in cause.judged_on.all() if row.active]

    def get_moves(self, cause: Cause) -> list[str]:
        """Return the moves that are open."""
        return open_moves(CAUSE, cause, self.context["request"].user)


class CauseFilters(serializers.Serializer[Any]):
    """Which causes are listed; what is left out lets all through."""

    anomaly = serializers.CharField(required=False, max_length=20, help_text="Number of the anomaly.")
    kind = serializers.ChoiceField(Cause.Kind.choices, required=False)
    state = serializers.ChoiceField(CauseState.choices, required=False)
    tree = serializers.IntegerField(required=False, min_value=1, max_value=LAST_KEY)


class CauseIn(serializers.Serializer[Any]):
    """A possible cause."""

    kind = serializers.ChoiceField(Cause.Kind.choices)
    statement = text(required=True)
    finding_ids = keys()
    parent_id = key(required=False)
    tree_id = key(required=False)
    event_code = serializers.CharField(max_length=200, required=False, allow_blank=True)


class CauseChanges(serializers.Serializer[Any]):
    """Put otherwise; what is left out stays."""

    version = serializers.IntegerField(min_value=1, help_text=VERSION)
    kind = serializers.ChoiceField(Cause.Kind.choices, required=False)
    statement = serializers.CharField(max_length=50_000, required=False)
    parent_id = key(required=False)
    tree_id = key(required=False)
    event_code = serializers.CharField(max_length=200, required=False, allow_blank=True)


class FindingIdsIn(serializers.Serializer[Any]):
    """Findings of the same anomaly."""

    version = serializers.IntegerField(min_value=1, help_text=VERSION)
    finding_ids = keys(required=True)


class JudgementIn(serializers.Serializer[Any]):
    """Why, and on which evidence; the findings that it rests on count too."""

    version = serializers.IntegerField(min_value=1, help_text=VERSION)
    rationale = text(required=True)
    evidence_ids = keys()
