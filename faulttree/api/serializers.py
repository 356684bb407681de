"""Shapes of the JSON API; they check and show, and never save."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from config.kit.api_schema import UploadField
from faulttree.bridge import Request, TimeGrid
from faulttree.models import Run, Tree, TreeRevision
from faulttree.services.runs import DEFAULT_LIST_COUNT


class RevisionOut(serializers.ModelSerializer[TreeRevision]):
    """One revision, without the file itself."""

    author = serializers.CharField(source="author.username")

    class Meta:
        model = TreeRevision
        fields = (
            *("number", "format", "sha256", "file_name", "note", "author", "created"),
            *("gates", "events", "tops", "uses_mission_time"),
        )


class TreeOut(serializers.ModelSerializer[Tree]):
    """One tree."""

    owner = serializers.CharField(source="owner.username")

    class Meta:
        model = Tree
        fields = ("id", "name", "label", "owner", "created")


class RunOut(serializers.ModelSerializer[Run]):
    """One run: what was asked, how far it is, the few figures of its headline. The answer has an address of its own."""

    tree = serializers.IntegerField(source="revision.tree_id")
    revision = serializers.IntegerField(source="revision.number")
    requested_by = serializers.CharField(source="requested_by.username")

    class Meta:
        model = Run
        fields = (
            *("id", "tree", "revision", "request", "requested_by", "state", "step", "share", "cancel_requested"),
            *("attempt", "created", "queued_at", "started_at", "finished_at", "headline", "error"),
        )


class FileIn(serializers.Serializer[Any]):
    """A file in exchange XML or in our plain JSON."""

    file = UploadField()
    note = serializers.CharField(max_length=500, required=False, default="", allow_blank=True)


class TreeIn(FileIn):
    """A file that becomes a new tree; name and label are taken from it where they are left out."""

    name = serializers.CharField(max_length=200, required=False, default="", allow_blank=True)
    label = serializers.CharField(max_length=300, required=False, default="", allow_blank=True)  # type: ignore[assignment]


class TimeGridIn(serializers.Serializer[Any]):
    """Times in hours."""

    start = serializers.FloatField(min_value=0.0)
    stop = serializers.FloatField(min_value=0.0)
    step = serializers.FloatField(min_value=0.0)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Refuse a grid without an end, or with too many times."""
        if attrs["stop"] <= attrs["start"] or attrs["step"] <= 0.0:
            raise serializers.ValidationError("The stop must be after the start, and the step above 0.")
        if (attrs["stop"] - attrs["start"]) / attrs["step"] > 2_000:
            raise serializers.ValidationError("More than 2,000 times; take a larger step.")
        return attrs


class RunIn(serializers.Serializer[Any]):
    """A request; what is left out stands at its default."""

    top = serializers.CharField(required=False, allow_null=True, default=None)
    mission_time = serializers.FloatField(min_value=0.0, required=False, allow_null=True, default=None)
    list_count = serializers.IntegerField(min_value=0, max_value=10_000, required=False, default=DEFAULT_LIST_COUNT)
    max_order = serializers.IntegerField(min_value=1, required=False, allow_null=True, default=None)
    min_probability = serializers.FloatField(min_value=0.0, max_value=1.0, required=False, default=0.0)
    time_grid = TimeGridIn(required=False, allow_null=True, default=None)
    samples = serializers.IntegerField(min_value=0, max_value=1_000_000, required=False, default=0)
    seed = serializers.IntegerField(min_value=0, max_value=2**63 - 1, required=False, default=1)
    sampling = serializers.ChoiceField(("latin-hypercube", "monte-carlo"), required=False, default="latin-hypercube")
    evidence = serializers.DictField(child=serializers.BooleanField(), required=False, default=dict)
    prime_implicants = serializers.IntegerField(min_value=0, max_value=10_000, required=False, default=0)
    nodes = serializers.IntegerField(min_value=100, required=False, allow_null=True, default=None)
    seconds = serializers.FloatField(min_value=0.5, required=False, allow_null=True, default=None)

    def to_request(self) -> Request:
        """Return the request that the fields say."""
        data = {name: value for name, value in self.validated_data.items() if name not in ("nodes", "seconds")}
        grid = data.pop("time_grid")
        data["evidence"] = dict(sorted(data["evidence"].items()))
        return Request(**data, time_grid=TimeGrid(**grid) if grid else None)
