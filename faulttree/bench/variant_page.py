"""The page that compares the variants of a tree: everything its templates need."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.http import HttpResponse
from django.utils.safestring import SafeString, mark_safe

from config.kit.htmx import page_or_fragment
from config.kit.permissions import allows
from config.kit.requests import PersonRequest
from faulttree.bridge import read_current, read_graph
from faulttree.charts.variants import draw_variants
from faulttree.models import Tree, Variant
from faulttree.reads.comparison import (
    CAUTION,
    Row,
    Setting,
    compare,
    find_compared_revision,
    find_setting,
    read_hours,
)
from faulttree.reads.tables import EventName, name_event

PAGE, FRAGMENT = "faulttree/variant/list.html", "faulttree/variant/_comparison.html"


@dataclass(frozen=True, slots=True)
class Shown:
    """A row, with the titles of the events in its likeliest cut set."""

    row: Row
    events: tuple[EventName, ...]


class VariantsPage:
    """Computes the comparison when a template asks for it."""

    caution = CAUTION

    def __init__(self, request: PersonRequest, tree: Tree) -> None:
        self._request = request
        self.tree = tree
        self.revision = find_compared_revision(tree, request.GET.get("revision", ""))
        self.typed_hours = request.GET.get("hours", "").strip()
        self.hours = read_hours(self.typed_hours)

    def render(self) -> HttpResponse:
        """Return the page, or the comparison alone for htmx."""
        return page_or_fragment(self._request, PAGE, FRAGMENT, {"page": self, "tree": self.tree})

    @property
    def bad_hours(self) -> bool:
        """What was typed is no mission time."""
        return bool(self.typed_hours) and self.hours is None

    @cached_property
    def setting(self) -> Setting:
        """Top event and mission time of all rows."""
        return find_setting(self.revision, self._request.GET.get("top", ""), self.hours)

    @cached_property
    def variants(self) -> list[Variant]:
        """All variants of the tree, by name."""
        return list(self.tree.variants.select_related("author"))

    @cached_property
    def compared(self) -> list[Row]:
        """The tree as it stands, then each variant."""
        return compare(self.revision, self.variants, self.setting)

    @cached_property
    def rows(self) -> list[Shown]:
        """The compared, with titles of events."""
        graph = read_graph(read_current(self.revision), self.setting.mission_time)
        return [Shown(row, tuple(name_event(graph, name) for name in row.likeliest or ())) for row in self.compared]

    @cached_property
    def chart(self) -> SafeString:
        """The picture of the rows whose figures are known."""
        return mark_safe(draw_variants(self.compared))  # noqa: S308  escaped by markup.py

    @property
    def open_rows(self) -> list[Row]:
        """What a run would tell, or tell more exactly."""
        return [row for row in self.compared if row.can_ask]

    @property
    def unknown_count(self) -> int:
        """How many rows have no figure and none on its way."""
        return sum(row.state in ("unknown", "failed") for row in self.compared)

    @property
    def waits(self) -> bool:
        """A run of one of the rows is on its way."""
        return any(row.state == "waiting" for row in self.compared)

    @cached_property
    def newest_number(self) -> int:
        """The number of the newest revision."""
        return self.tree.revisions.without_source()[0].number

    @cached_property
    def may_add(self) -> bool:
        """The person may add, change and remove variants."""
        return allows(self._request.user, "variant.add", self.tree)

    @cached_property
    def may_run(self) -> bool:
        """The person may ask for runs."""
        return allows(self._request.user, "run.request", self.revision)

    @property
    def query(self) -> str:
        """The parameters of this page, for addresses that compare the same."""
        return self._request.GET.urlencode()


def write_rows(page: VariantsPage) -> Iterator[list[Any]]:
    """Return the comparison as rows of a file: facts after #, then head and table."""
    setting, revision = page.setting, page.revision
    yield ["# file", "Variants of a fault tree beside the tree as it stands"]
    yield ["# tree", f"{page.tree.label} ({page.tree.name})" if page.tree.label else page.tree.name]
    yield ["# revision", revision.number]
    yield ["# top event", setting.top]
    if setting.mission_time is not None:
        yield ["# mission time, h", setting.mission_time]
    yield ["# caution", page.caution]
    yield [
        *("variant", "what is different", "state", "top-event probability", "at least", "at most"),
        *("ratio, least", "ratio, most", "difference, least", "difference, most"),
        *("minimal cut sets", "all cut sets counted", "likeliest cut set", "share, least", "share, most", "problems"),
    ]
    for row in page.compared:
        is_exact = row.state == "exact"
        yield [
            *(row.name, "; ".join(row.words), STATES[row.state]),
            *(row.low if is_exact else None, row.low, row.high),
            *(row.ratio or (None, None)),
            *(row.difference or (None, None)),
            *(row.cut_sets, row.all_cut_sets if row.cut_sets is not None else None),
            " ".join(row.likeliest or ()),
            *(row.share or (None, None)),
            " ".join(row.problems),
        ]


STATES = {
    "exact": "exact",
    "bracket": "certified bracket, not exact",
    "waiting": "a run is on its way",
    "failed": "its run gave no answer",
    "refused": "can't be computed with this revision",
    "unknown": "not computed yet",
}
