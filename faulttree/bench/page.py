"""The page of one revision with one run: everything its templates need, and which piece htmx asked for."""

from __future__ import annotations

from functools import cached_property
from typing import Any

from django.core.paginator import Page
from django.http import HttpResponse, QueryDict
from django.utils.safestring import SafeString, mark_safe

from config.kit.htmx import page_or_fragment
from config.kit.paging import paginate
from config.kit.permissions import allows
from config.kit.requests import PersonRequest
from faulttree.bench.export_menu import ExportMenu
from faulttree.bench.forms import RunForm, fill_run_form
from faulttree.charts.bars import draw_importance
from faulttree.charts.curves import draw_curve
from faulttree.charts.drivers import draw_drivers
from faulttree.charts.ruler import draw_ruler
from faulttree.charts.spread import draw_histogram
from faulttree.drawing.graph import FaultGraph
from faulttree.models import Run, TreeRevision
from faulttree.reads.answers import Answer, read_answer
from faulttree.reads.change_marks import Changes, read_changes
from faulttree.reads.drivers import Drivers, read_drivers
from faulttree.reads.graphs import read_revision_graph
from faulttree.reads.shading import Shading, list_choices, read_shading
from faulttree.reads.shared_facts import SharedFacts, read_shared_facts
from faulttree.reads.sheets import Extras, SheetView, read_sheet
from faulttree.reads.tables import (
    MEASURE_BY_KEY,
    MEASURES,
    EventRow,
    list_cut_sets,
    list_importance,
    name_event,
    read_sort,
)

TEMPLATE = "faulttree/tree/detail.html"
FRAGMENTS = {
    "diagram": "faulttree/tree/_diagram.html",
    "cut-sets": "faulttree/run/_cut_sets.html",
    "importance": "faulttree/run/_importance.html",
}
"""Pieces that htmx may ask for, by the id of their root."""

CUT_SETS_PER_PAGE = 25
EVENTS_PER_PAGE = 25


class BenchPage:
    """Computes each part of the page when a template asks for it."""

    def __init__(self, request: PersonRequest, revision: TreeRevision, run: Run | None, form: RunForm | None) -> None:
        self._request = request
        self.params: QueryDict = request.GET
        self.revision = revision
        self.tree = revision.tree
        self.run = run
        self._form = form

    def render(self, *, status: int = 200) -> HttpResponse:
        """Return the page, or the piece that the request's target names."""
        fragment = FRAGMENTS.get(self._request.headers.get("HX-Target", ""), TEMPLATE)
        context = {"page": self, "revision": self.revision, "tree": self.tree, "run": self.run}
        return page_or_fragment(self._request, TEMPLATE, fragment, context, status=status)

    @cached_property
    def may_run(self) -> bool:
        """The person may ask for runs and cancel them."""
        return allows(self._request.user, "run.request", self.revision)

    @cached_property
    def may_revise(self) -> bool:
        """The person may add a revision."""
        return allows(self._request.user, "tree.revise", self.tree)

    @cached_property
    def answer(self) -> Answer | None:
        """The answer of the run, if it is done."""
        return read_answer(self.run)

    @cached_property
    def shared(self) -> SharedFacts:
        """The data set of the run, and whether a newer one would change it."""
        return read_shared_facts(self.revision, self.run)

    @cached_property
    def graph(self) -> FaultGraph:
        """The tree as it is drawn, at the mission time of the run."""
        return read_revision_graph(self.revision, self.run)

    @cached_property
    def top(self) -> str:
        """The top event of the run, or the one there is to begin with."""
        asked = self.run.request["top"] if self.run else ""
        return asked if asked in self.graph else str(self.revision.tops[0])

    @cached_property
    def top_label(self) -> str:
        """What the author calls the top event."""
        return self.graph[self.top].label or self.top

    @cached_property
    def sheet(self) -> SheetView:
        """The diagram."""
        extras = Extras(self.shading.shades if self.shading else {}, self.changes.marks if self.changes else {})
        return read_sheet(self.graph, self.top, self.answer, self.params, extras)

    @cached_property
    def shading_choices(self) -> list[tuple[str, str]]:
        """What events can be tinted by."""
        return list_choices(self.answer)

    @cached_property
    def shading(self) -> Shading | None:
        """How events are tinted."""
        return read_shading(self.answer, self.graph, self.params.get("shade", ""))

    @cached_property
    def changes(self) -> Changes | None:
        """What changed since the revision before, where the query asks for it."""
        return read_changes(self.revision) if self.params.get("changes") == "1" else None

    @property
    def has_earlier(self) -> bool:
        """There is a revision before this one."""
        return self.revision.number > 1

    @property
    def query_for_changes(self) -> str:
        """All parameters but the one that marks changes."""
        return self.query_without("changes")

    @property
    def kept_for_shade(self) -> list[tuple[str, str]]:
        """Hidden fields of the choice of a tint."""
        return self.kept_for("shade")

    @cached_property
    def form(self) -> RunForm:
        """The settings of the next run, beginning with those of this one."""
        return self._form or fill_run_form(self.revision, self.run.request if self.run else None)

    @cached_property
    def revisions(self) -> list[TreeRevision]:
        """All revisions of the tree, newest first."""
        return list(self.tree.revisions.without_source().select_related("author"))

    @cached_property
    def runs(self) -> list[Run]:
        """The latest runs of this revision, newest first."""
        return list(self.revision.runs.without_result().select_related("requested_by")[:12])

    @cached_property
    def ruler(self) -> SafeString:
        """The probability ruler."""
        return _picture(draw_ruler(self.answer.data)) if self.answer else _picture("")

    @cached_property
    def cut_sets(self) -> Page[Any]:
        """One page of the table of cut sets."""
        rows = list_cut_sets(self.answer, self.graph, self.params) if self.answer else []
        return paginate(self._request, rows, size=CUT_SETS_PER_PAGE, name="cuts_page")

    @cached_property
    def cuts_head(self) -> list[dict[str, Any]]:
        """Heads of the table of cut sets."""
        keys = (("events", "Events", False), ("order", "Order", True), ("probability", "Probability", True))
        sort = read_sort(self.params.get("cuts", ""), ("probability", "order", "events"), "-probability")
        return [self._head("cuts", key, name, sort, is_number, key == "probability") for key, name, is_number in keys]

    @cached_property
    def events(self) -> Page[EventRow]:
        """One page of the importance table."""
        return paginate(self._request, self._event_rows, size=EVENTS_PER_PAGE, name="events_page")

    @cached_property
    def _event_rows(self) -> list[EventRow]:
        return list_importance(self.answer, self.graph, self.params) if self.answer else []

    @cached_property
    def _event_sort(self) -> tuple[str, bool]:
        return read_sort(self.params.get("by", ""), ("name", *MEASURE_BY_KEY), "-birnbaum")

    @cached_property
    def events_head(self) -> list[dict[str, Any]]:
        """Heads of the importance table."""
        heads = [self._head("by", "name", "Event", self._event_sort, False, False)]
        return heads + [
            self._head("by", measure.key, measure.head, self._event_sort, True, True) | {"title": measure.name}
            for measure in MEASURES
        ]

    @cached_property
    def measures(self) -> tuple[Any, ...]:
        """The importance measures, with what each says."""
        return MEASURES

    @cached_property
    def importance_chart(self) -> SafeString:
        """The leading events of the table by the measure it is sorted by."""
        key, _ = self._event_sort
        measure = MEASURE_BY_KEY.get(key, MEASURES[0])
        return _picture(draw_importance(self._event_rows, measure, MEASURES.index(measure)))

    @cached_property
    def spread(self) -> dict[str, Any] | None:
        """The uncertainty of the answer."""
        return self.answer.data.get("uncertainty") if self.answer else None

    @cached_property
    def histogram(self) -> SafeString:
        """The distribution over the samples."""
        return _picture(draw_histogram(self.spread) if self.spread else "")

    @cached_property
    def drivers(self) -> Drivers | None:
        """What drives the uncertainty of the answer."""
        return read_drivers(self.spread, self.graph)

    @cached_property
    def driver_chart(self) -> SafeString:
        """The rank correlations of the drivers."""
        return _picture(draw_drivers(self.drivers.rows) if self.drivers else "")

    @cached_property
    def course(self) -> list[dict[str, Any]]:
        """The points over time."""
        return (self.answer.data.get("time") or []) if self.answer else []

    @cached_property
    def probability_curve(self) -> SafeString:
        """Q(t)."""
        times = [point["t"] for point in self.course]
        return _picture(draw_curve(times, [point["probability"] for point in self.course], "Probability Q(t)", 1))

    @cached_property
    def frequency_curve(self) -> SafeString:
        """w(t), where it is defined at every time."""
        values = [point["frequency"] for point in self.course]
        if any(value is None for value in values):
            return _picture("")
        return _picture(draw_curve([point["t"] for point in self.course], values, "Frequency w(t), per hour", 2))

    @cached_property
    def posterior(self) -> list[tuple[Any, float, float | None]]:
        """Events with their probability given top event and evidence, likeliest first, and the one before."""
        posterior = (self.answer.data.get("posterior") or {}) if self.answer else {}
        rows = [
            (name_event(self.graph, name), value, self.graph[name].probability if name in self.graph else None)
            for name, value in posterior.items()
        ]
        return sorted(rows, key=lambda row: (-row[1], row[0].name))

    @cached_property
    def evidence(self) -> list[tuple[Any, bool]]:
        """What the run was told."""
        told = self.run.request["evidence"] if self.run else {}
        return [(name_event(self.graph, name), is_true) for name, is_true in told.items()]

    def _head(
        self, parameter: str, key: str, name: str, sort: tuple[str, bool], is_number: bool, falls_first: bool
    ) -> dict[str, Any]:
        """Return one head: where a click leads, and how the table is sorted by it now."""
        is_sorted, descending = sort[0] == key, sort[1]
        next_descending = not descending if is_sorted else falls_first
        query = self.params.copy()
        query.pop(f"{'cuts' if parameter == 'cuts' else 'events'}_page", None)
        query[parameter] = ("-" if next_descending else "") + key
        return {
            "name": name,
            "query": query.urlencode(),
            "is_number": is_number,
            "sorted": ("descending" if descending else "ascending") if is_sorted else "",
            "title": "",
        }

    def query_without(self, *names: str) -> str:
        """Return the other parameters, ready to be followed by one more."""
        query = self.params.copy()
        for name in names:
            query.pop(name, None)
        text = query.urlencode()
        return f"{text}&" if text else ""

    @cached_property
    def query_for_cuts_page(self) -> str:
        """All parameters but the page of the cut sets."""
        return self.query_without("cuts_page")

    @cached_property
    def query_for_events_page(self) -> str:
        """All parameters but the page of the events."""
        return self.query_without("events_page")

    @cached_property
    def query_for_cut(self) -> str:
        """Parameters for lighting up another cut set: the sheet starts anew from the top."""
        return self.query_without("cut", "focus", "open", "shut", "find", "room")

    @cached_property
    def exports(self) -> ExportMenu:
        """Where the files of the page are."""
        return ExportMenu(self.revision, self.answer, self.graph, self.top, self.params)

    def kept_for(self, *names: str) -> list[tuple[str, str]]:
        """Return the other parameters as pairs, for hidden fields of a form."""
        return [(key, value) for key, values in self.params.lists() if key not in names for value in values]

    @cached_property
    def kept_for_cuts(self) -> list[tuple[str, str]]:
        """Hidden fields of the filter of cut sets."""
        return self.kept_for("with", "order", "cuts_page")

    @cached_property
    def kept_for_events(self) -> list[tuple[str, str]]:
        """Hidden fields of the filter of events."""
        return self.kept_for("event", "events_page")

    @cached_property
    def kept_for_find(self) -> list[tuple[str, str]]:
        """Hidden fields of the search in the diagram."""
        return self.kept_for("find")


def _picture(markup: str) -> SafeString:
    return mark_safe(markup)  # noqa: S308  made by drawing.markup, which escapes
