"""The bench: one draft with its outline, its diagram, what is chosen and the live figures; and pieces of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.http import HttpResponse, QueryDict
from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe

from config.kit.figures import write_plain
from config.kit.htmx import page_or_fragment
from config.kit.markup import element
from config.kit.requests import PersonRequest
from faulttree.bridge import hash_bytes
from faulttree.documents import read_step_model
from faulttree.drawing.graph import FaultGraph
from faulttree.drawing.outline import write_outline
from faulttree.models import DraftStep, TreeDraft
from faulttree.reads.chosen import Chosen, read_chosen
from faulttree.reads.draft_graph import draw_draft
from faulttree.reads.extras import Extras, read_extras, read_parameter
from faulttree.reads.live import Live, read_live
from faulttree.reads.previews import preview_event, preview_expression
from faulttree.reads.shared import list_offered
from faulttree.reads.sheets import SheetView, read_sheet
from faulttree.reads.standing import Standing, read_standing
from faulttree.services.drafts import read_step

TEMPLATE = "faulttree/draft/detail.html"
PIECES = {
    "bar": "faulttree/draft/_bar.html",
    "outline": "faulttree/draft/_outline.html",
    "diagram": "faulttree/tree/_diagram.html",
    "chosen": "faulttree/draft/_chosen.html",
    "live": "faulttree/draft/_live.html",
    "extras": "faulttree/draft/_extras.html",
}
"""Parts of the page by the id of their root; all of them change with a step."""


@dataclass(frozen=True, slots=True)
class View:
    """What the person looks at: the chosen element, and the gate above it where it was chosen."""

    chosen: str
    under: str


class DraftPage:
    """Computes each part of the bench when a template asks for it.

    refusal, note, is_behind : why saving was refused, what was typed, and whether a newer revision is the reason
    """

    refusal: str = ""
    note: str = ""
    is_behind: bool = False

    def __init__(self, request: PersonRequest, draft: TreeDraft, params: QueryDict, view: View | None = None) -> None:
        self._request = request
        self.draft = draft
        self.params = params
        self._view = view

    def render(self, *, status: int = 200) -> HttpResponse:
        """Return the page, or the diagram alone where the viewer asked for that."""
        wants_diagram = self._request.headers.get("HX-Target") == "diagram"
        fragment = PIECES["diagram"] if wants_diagram else TEMPLATE
        return page_or_fragment(self._request, TEMPLATE, fragment, self._context, status=status)

    def pieces(self, *names: str) -> dict[str, str]:
        """Return pieces as markup, by name; all of them where none is named."""
        return {name: render_to_string(PIECES[name], self._context, request=self._request) for name in names or PIECES}

    @property
    def _context(self) -> dict[str, Any]:
        return {"page": self, "draft": self.draft, "tree": self.draft.tree}

    @cached_property
    def step(self) -> DraftStep:
        """The step that is shown."""
        return read_step(self.draft)

    @cached_property
    def model(self) -> Any:
        """The model as it is now."""
        return read_step_model(self.step)

    @cached_property
    def graph(self) -> FaultGraph:
        """The model as it is drawn."""
        return draw_draft(self.model, self.draft.mission_time)

    @cached_property
    def live(self) -> Live:
        """The figures beside it."""
        return read_live(
            self.model,
            (hash_bytes(bytes(self.step.document)),),
            top=self.params.get("top", ""),
            mission_time=self.draft.mission_time,
        )

    @cached_property
    def top(self) -> str:
        """The top event that is computed and drawn."""
        return self.live.top

    @cached_property
    def sheet(self) -> SheetView:
        """The diagram."""
        return read_sheet(self.graph, self.top, self.live, self.params)

    @cached_property
    def outline(self) -> SafeString:
        """The items of the outline."""
        marks = self.standing.marks
        return mark_safe(write_outline(self.graph, write_plain, marks))  # noqa: S308  escaped by markup.py

    @cached_property
    def name_lists(self) -> SafeString:
        """Names that fields offer: of all elements, and of gates."""
        model = self.model
        everything = (*model.gates, *model.basic_events, *model.house_events)
        lists = {"all-names": everything, "gate-names": tuple(model.gates)}
        return mark_safe(  # noqa: S308  escaped by markup.py
            "".join(
                element("datalist", "".join(element("option", "", value=name) for name in names), id=key)
                for key, names in lists.items()
            )
        )

    def parameter_form(self, name: str) -> str:
        """Return the form of a parameter, empty where there is none of that name."""
        if name not in self.model.parameters:
            return ""
        row = read_parameter(self.model, name, self.draft.mission_time)
        preview = preview_expression(self.model, self.model.parameters[name].expression, self.draft.mission_time)
        context = {"row": row, "library": row.library, "items": list_offered("parameter")}
        context |= {"picture": mark_safe(preview.svg), "notes": preview.notes}  # noqa: S308  escaped by markup.py
        return render_to_string("faulttree/draft/_parameter.html", context, request=self._request)

    @cached_property
    def shared_events(self) -> list[str]:
        """Basic events of the library that a tree may take."""
        return list_offered("event")

    @cached_property
    def view(self) -> View:
        """What is chosen; the top event to begin with."""
        wanted = self._view or View(self.params.get("chosen", ""), self.params.get("under", ""))
        if wanted.chosen not in self.graph:
            return View(self.top, "")
        return wanted

    @cached_property
    def chosen(self) -> Chosen:
        """What the panel says of the chosen element."""
        return read_chosen(self.model, self.graph, self.view.chosen, self.view.under, self.draft.mission_time)

    @cached_property
    def preview(self) -> dict[str, Any] | None:
        """The chosen event over the mission, or its distribution; None for anything else."""
        if self.chosen.node.kind != "basic":
            return None
        found = preview_event(self.model, self.view.chosen, self.draft.mission_time)
        return {"svg": mark_safe(found.svg), "notes": found.notes}  # noqa: S308  escaped by markup.py

    @cached_property
    def extras(self) -> Extras:
        """Parameters and common-cause groups."""
        return read_extras(self.model, self.draft.mission_time)

    @cached_property
    def standing(self) -> Standing:
        """What is different from the revision it began with."""
        return read_standing(self.draft, self.model, self.live)

    @cached_property
    def kept_for_find(self) -> list[tuple[str, str]]:
        """Hidden fields of the search in the diagram."""
        return [(key, value) for key, values in self.params.lists() if key != "find" for value in values]

    @cached_property
    def query_for_cut(self) -> str:
        """Parameters for lighting up a cut set: the sheet starts anew from the top."""
        kept = self.params.copy()
        for name in ("cut", "focus", "open", "shut", "find", "room"):
            kept.pop(name, None)
        text = kept.urlencode()
        return f"{text}&" if text else ""

    @cached_property
    def undo_words(self) -> str:
        """What undoing would take back; empty at the beginning."""
        return self.step.words if self.draft.steps.filter(number=self.draft.position - 1).exists() else ""

    @cached_property
    def redo_words(self) -> str:
        """What could be done again; empty where nothing was undone."""
        after = self.draft.steps.filter(number=self.draft.position + 1).only("words").first()
        return after.words if after else ""
