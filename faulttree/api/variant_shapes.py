"""Shapes of variants in the JSON API."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from faulttree.bridge import parse_overrides, say_overrides
from faulttree.models import Variant
from faulttree.reads.comparison import CAUTION, Row, Setting


class VariantIn(serializers.Serializer[Any]):
    """A variant: `events` maps names to false (ruled out), true (certain) or an expression as in plain JSON,
    `houses` names to true or false, `parameters` names to expressions; `mission_time` is in hours.
    """

    name = serializers.CharField(max_length=120)
    note = serializers.CharField(max_length=500, required=False, default="", allow_blank=True)
    overrides = serializers.DictField()


class VariantChangeIn(VariantIn):
    """What takes the place of a variant that was seen as `version`."""

    version = serializers.IntegerField(min_value=1)


class VariantOut(serializers.ModelSerializer[Variant]):
    """A variant; `words` say its overrides, a short phrase each."""

    tree = serializers.IntegerField(source="tree_id")
    overrides = serializers.DictField()
    words = serializers.SerializerMethodField()
    author = serializers.CharField(source="author.username")

    class Meta:
        model = Variant
        fields = ("id", "tree", "name", "note", "overrides", "words", "author", "version", "created", "changed")

    def get_words(self, variant: Variant) -> list[str]:
        """Return the overrides in words."""
        return list(say_overrides(parse_overrides(variant.overrides)))


class ComparedOut(serializers.Serializer[Any]):
    """A variant beside the tree as it stands, whose `variant` is null.

    `state` is exact, bracket, waiting (a run is on its way), failed, refused (can't be computed with this revision;
    `problems` say why) or unknown (not computed yet). Of an exact figure `low` and `high` are the same. Ratio and
    difference are to the tree as it stands, share that of the likeliest cut set in the top event: least and most.
    """

    variant = serializers.IntegerField(source="variant.pk", allow_null=True, default=None)
    name = serializers.CharField()
    words = serializers.ListField(child=serializers.CharField())
    state = serializers.ChoiceField(("exact", "bracket", "waiting", "failed", "refused", "unknown"))
    problems = serializers.ListField(child=serializers.CharField())
    run = serializers.IntegerField(source="run.pk", allow_null=True, default=None)
    low = serializers.FloatField(allow_null=True)
    high = serializers.FloatField(allow_null=True)
    ratio = serializers.ListField(child=serializers.FloatField(), allow_null=True)
    difference = serializers.ListField(child=serializers.FloatField(), allow_null=True)
    cut_sets = serializers.IntegerField(allow_null=True)
    all_cut_sets = serializers.BooleanField()
    likeliest = serializers.ListField(child=serializers.CharField(), allow_null=True)
    share = serializers.ListField(child=serializers.FloatField(), allow_null=True)


class ComparisonOut(serializers.Serializer[Any]):
    """All variants of a tree beside the tree as it stands, with what they have in common."""

    revision = serializers.IntegerField()
    top = serializers.CharField()
    mission_time = serializers.FloatField(allow_null=True)
    rows = ComparedOut(many=True)
    caution = serializers.CharField()


def show_comparison(number: int, setting: Setting, rows: list[Row]) -> dict[str, Any]:
    """Return a comparison as the API gives it."""
    said = {"revision": number, "top": setting.top, "mission_time": setting.mission_time, "rows": rows}
    return dict(ComparisonOut({**said, "caution": CAUTION}).data)
