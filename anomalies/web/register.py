"""The register of moves that people make on pages: one entry per form, and one door for all of them.

    @move_form("anomaly", "dismiss", label="Dismiss", button="Dismiss it")
    class DismissForm(MoveForm[Anomaly]):
        reason = words("Why it's no anomaly")

        def act(self) -> Anomaly:
            return dismiss_anomaly(anomaly_id=self.record.pk, actor=self.actor, **self.cleaned_data)

That is all: the form has an address, the record's page offers it to those who may, in the states that allow it, and the
door turns every refusal into words beside the field it concerns.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

from anomalies import states
from config.kit.transitions import Machine

if TYPE_CHECKING:
    from anomalies.web.forms import MoveForm

F = TypeVar("F", bound="type[MoveForm[Any]]")

MACHINES: dict[str, Machine] = {
    "access_token": states.TOKEN,
    "action": states.ACTION,
    "action_tie": states.ACTION_TIE,
    "activity": states.ACTIVITY,
    "anomaly": states.ANOMALY,
    "bearing": states.BEARING,
    "board_meeting": states.BOARD_MEETING,
    "brief_share": states.TOKEN,
    "calendar_key": states.TOKEN,
    "cause": states.CAUSE,
    "constraint": states.CONSTRAINT,
    "effect": states.EFFECT,
    "evidence": states.EVIDENCE,
    "exposure": states.EXPOSURE,
    "finding": states.FINDING,
    "fulfilment": states.FULFILMENT,
    "hardware": states.HARDWARE,
    "inspection": states.INSPECTION,
    "installation": states.INSTALLATION,
    "investigation": states.INVESTIGATION,
    "lesson": states.LESSON,
    "lesson_use": states.LESSON_USE,
    "link": states.LINK,
    "meeting_decision": states.MEETING_DECISION,
    "parameter_update": states.PARAMETER_UPDATE,
    "procedure_revision": states.PROCEDURE_REVISION,
    "readiness_review": states.READINESS_REVIEW,
    "requirement": states.REQUIREMENT,
    "timeline_entry": states.TIMELINE_ENTRY,
    "waiver": states.WAIVER,
}


@dataclass(frozen=True, slots=True)
class MovePage:
    """One form: its address ends in kind, key of the record, and `name`.

    move        the move of the state table that it makes; many forms may make the same one. "" if the kind has no table
    rule        who may: the rule of that move, unless another one is given
    label       what the button that leads to it says; `button` is what its own says
    section     the part of the record's page that offers it; "" for the head
    """

    kind: str
    name: str
    move: str
    rule: str
    form: type[MoveForm[Any]]
    label: str
    button: str
    section: str


PAGES: dict[tuple[str, str], MovePage] = {}


def move_form(
    kind: str, name: str, *, label: str, button: str = "", move: str | None = None, rule: str = "", section: str = ""
) -> Callable[[F], F]:
    """Enter a form into the register; see the head of this module."""

    def enter(form: F) -> F:
        if (kind, name) in PAGES:
            raise ValueError(f"{kind}.{name} has a form already: {PAGES[kind, name].form.__name__}")
        made = name.replace("-", "_") if move is None else move
        if made:
            assert any(each.name == made for each in MACHINES[kind].moves), f"{kind} has no move {made}"
        asked = rule or f"{kind}.{made}"
        PAGES[kind, name] = MovePage(kind, name, made, asked, form, label, button or label, section)
        return form

    return enter


@dataclass(frozen=True, slots=True)
class NewPage:
    """One form that makes a record out of nothing; `back` is the route of the list it comes from."""

    kind: str
    rule: str
    form: type[MoveForm[Any]]
    label: str
    button: str
    back: str


NEW: dict[str, NewPage] = {}


def new_form(kind: str, *, label: str, button: str, rule: str, back: str) -> Callable[[F], F]:
    """Enter a form that makes a record of this kind: it has the address `new`, and its `record` is an empty one."""

    def enter(form: F) -> F:
        if kind in NEW:
            raise ValueError(f"a form makes {kind} already: {NEW[kind].form.__name__}")
        NEW[kind] = NewPage(kind, rule, form, label, button, back)
        return form

    return enter
