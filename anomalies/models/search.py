"""What can be searched: one row of text per record, derived from it, and made again at any time."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import cast

from django.conf import settings
from django.db import connections, models
from django.db.models import Q
from django.db.models.expressions import RawSQL

from config.kit.permissions import Actor, allows

RULES = {
    "action": "action.view",
    "activity": "activity.view",
    "anomaly": "anomaly.view",
    "cause": "anomaly.view",
    "constraint": "anomaly.view",
    "evidence": "anomaly.view",
    "finding": "anomaly.view",
    "hardware": "hardware.view",
    "hardware_type": "hardware.view",
    "lesson": "anomaly.view",
    "procedure": "procedure.view",
    "timeline_entry": "anomaly.view",
}
"""Kind of record -> the rule by which one may see it."""

MOST_WORDS = 12
TOKEN = re.compile(r"[^\W_]+")
TABLE = "anomalies_searchtext"

Phrases = Sequence[Sequence[str]]


def split_words(words: str) -> list[list[str]]:
    """Return what is looked for: per word its parts of letters and digits, so that A-2031-014 is three in a row."""
    found = (TOKEN.findall(word.lower()) for word in words.split()[:MOST_WORDS])
    return [parts for parts in found if parts]


def write_sqlite_query(phrases: Phrases) -> str:
    """Return a query of FTS5: every word, in any order, the last part of each as a beginning."""
    return " ".join(f'"{" ".join(parts)}"*' for parts in phrases)


def write_postgresql_query(phrases: Phrases) -> str:
    """Return a query of to_tsquery, which means the same."""
    return " & ".join(f"({' <-> '.join(parts)}:*)" for parts in phrases)


class SearchQuerySet(models.QuerySet["SearchText"]):
    """Searches, on either database."""

    def visible_to(self, actor: Actor) -> SearchQuerySet:
        """What the actor may see; a draft is its recorder's alone."""
        kinds = [kind for kind, rule in RULES.items() if allows(actor, rule)]
        return self.filter(kind__in=kinds).filter(Q(owner=None) | Q(owner=getattr(actor, "pk", None)))

    def matching(self, words: str) -> SearchQuerySet:
        """Those that hold every word or its beginning, in any order; none if nothing is asked for."""
        phrases = split_words(words)
        if not phrases:
            return self.none()
        if connections[self.db].vendor == "postgresql":
            sql, query = "vector @@ to_tsquery('english', %s)", write_postgresql_query(phrases)
            return self.filter(RawSQL(sql, [query], output_field=models.BooleanField()))  # noqa: S611
        sql, query = f"SELECT rowid FROM {TABLE}_fts WHERE {TABLE}_fts MATCH %s", write_sqlite_query(phrases)  # noqa: S608
        return self.filter(pk__in=RawSQL(sql, [query]))  # noqa: S611

    def best_first(self, words: str) -> SearchQuerySet:
        """Ordered by how well they match: whose code it is, then codes weigh most, then titles."""
        phrases, code = split_words(words), words.strip()
        if connections[self.db].vendor == "postgresql":
            sql, query = "-ts_rank_cd(vector, to_tsquery('english', %s))", write_postgresql_query(phrases)
            same = Q(codes__iexact=code) | Q(codes__istartswith=f"{code}\n")
            rows = self.annotate(rank=RawSQL(sql, [query]), other=~same)  # noqa: S611
            return rows.order_by("other", "rank", "-pk")
        other = f"substr(lower({TABLE}.codes || char(10)), 1, length(%s)) <> lower(%s)"
        # A join, since only then all are ranked in one pass over the index.
        ranked = self.extra(  # noqa: S610  # the words are a parameter
            select={"rank": f"bm25({TABLE}_fts, 10.0, 5.0, 1.0)", "other": other},
            select_params=[f"{code}\n", f"{code}\n"],
            tables=[f"{TABLE}_fts"],
            where=[f"{TABLE}_fts MATCH %s", f"{TABLE}_fts.rowid = {TABLE}.id"],
            params=[write_sqlite_query(phrases)],
            order_by=["other", "rank", "-id"],
        )
        return cast(SearchQuerySet, ranked)


class SearchText(models.Model):
    """The text of one record. No record itself: the ledger answers for what it was taken from.

    codes       numbers and serials, by which people look things up
    anomaly     the dossier that it belongs to, if to any
    owner       who alone may see it; null: all who may see its kind
    """

    kind = models.CharField(max_length=40)
    record_id = models.PositiveBigIntegerField()
    anomaly = models.ForeignKey("Anomaly", null=True, on_delete=models.CASCADE, related_name="search_texts")
    owner = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.CASCADE, related_name="+")
    codes = models.TextField(blank=True)
    title = models.TextField(blank=True)
    body = models.TextField(blank=True)

    objects = SearchQuerySet.as_manager()

    class Meta:
        constraints = (models.UniqueConstraint(fields=("kind", "record_id"), name="search_text_once_per_record"),)

    def __str__(self) -> str:
        return f"{self.kind} {self.record_id}: {self.title}"
