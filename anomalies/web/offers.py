"""Which moves a record's page offers: those that its state and the person's permissions allow, and no others."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse

from anomalies.models.base import Record
from anomalies.states import passes_gate
from anomalies.web.register import MACHINES, PAGES, MovePage
from config.kit.permissions import Actor, allows

SIDEWAYS = {"edit", "dismiss", "discard", "withdraw", "send-back", "drop", "reopen", "scrub", "retire"}
"""Moves that correct or give up; the page doesn't urge to make them."""


@dataclass(frozen=True, slots=True)
class Offer:
    """A button that leads to a form."""

    name: str
    label: str
    url: str
    section: str

    @property
    def leads_on(self) -> bool:
        """It takes the record further, so that its button may lead the others."""
        return self.name not in SIDEWAYS


def is_offered(page: MovePage, actor: Actor, record: Record) -> bool:
    """Tell whether this person may make the move to this record as it is now."""
    if page.move:
        state: str = record.state  # type: ignore[attr-defined]  # every kind with a machine has one
        if page.move not in MACHINES[page.kind].names_from(state):
            return False
    return passes_gate(record, page.move) and page.form.suits(record) and allows(actor, page.rule, record)


def find_offers(actor: Actor, record: Record, *, section: str | None = None) -> list[Offer]:
    """Return what the record's page offers the actor, in the order of the register; of one section, or of all."""
    return [
        Offer(page.name, page.label, address_of_move(record, page.name), page.section)
        for page in PAGES.values()
        if page.kind == record.KIND and section in (None, page.section) and is_offered(page, actor, record)
    ]


def address_of_move(record: Record, name: str) -> str:
    """Return where the form is."""
    return reverse("anomalies:move", args=(record.KIND, record.pk, name))
