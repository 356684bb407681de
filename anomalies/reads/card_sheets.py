"""The quick-response cards of an activity, laid out several to a sheet of paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.template.loader import render_to_string

from anomalies.cards import CARD_LINES, count_card_lines, write_heading
from anomalies.clock import now
from anomalies.models import Activity, Procedure, ProcedureRevision
from anomalies.reads.paper import read_style
from anomalies.reads.procedure_pages import StepRow, read_step_rows
from config.kit.errors import BadInput
from config.kit.pdf import print_pdf
from config.kit.permissions import Actor

PAPERS = {"a4": ("A4", 4), "letter": ("Letter", 2)}
"""Name of the paper, and how many cards of 105 x 148 mm a sheet takes: two rows of them are too high for Letter."""


@dataclass(frozen=True, slots=True)
class Card:
    """One card: a revision with its steps."""

    revision: ProcedureRevision
    heading: str
    steps: Sequence[StepRow]


@dataclass(frozen=True, slots=True)
class CardSet:
    """The cards of an activity, and those that can't be handed out.

    missing   on the activity's list, without a revision in force for it
    too_long  in force, but more than a card holds
    others    in force for it, but not on its list
    """

    activity: Activity
    cards: Sequence[Card]
    missing: Sequence[Procedure]
    too_long: Sequence[ProcedureRevision]
    others: Sequence[ProcedureRevision]
    at: datetime

    def sheets(self, paper: str) -> list[Sequence[Card]]:
        """Return the cards, as many together as a sheet takes."""
        most = PAPERS[paper][1]
        return [self.cards[first : first + most] for first in range(0, len(self.cards), most)]


def read_cards(actor: Actor, activity: Activity) -> CardSet:
    """Return the cards on the activity's list with the revision that is in force for it, by number."""
    visible = Procedure.objects.visible_to(actor).filter(kind=Procedure.Kind.CARD).order_by("number")
    listed = visible.filter(uses__activity=activity, uses__active=True).distinct()
    revisions = ProcedureRevision.objects.visible_to(actor).in_force_for(activity).filter(procedure__in=visible)
    in_force = {each.procedure_id: each for each in revisions.select_related("procedure").order_by("procedure__number")}
    found = [in_force[each.pk] for each in listed if each.pk in in_force]
    cards = [_read_card(each) for each in found]
    fits = [count_card_lines(card.revision.read_steps(), card.heading) <= CARD_LINES for card in cards]
    keys = {each.pk for each in found}
    return CardSet(
        activity,
        [card for card, fit in zip(cards, fits, strict=True) if fit],
        [each for each in listed if each.pk not in in_force],
        [card.revision for card, fit in zip(cards, fits, strict=True) if not fit],
        [each for each in in_force.values() if each.pk not in keys],
        now(),
    )


def check_paper(paper: str) -> str:
    """Return the paper; raises BadInput for one that isn't known."""
    if paper not in PAPERS:
        message = f"Choose one of {', '.join(PAPERS)} as the size of the paper."
        raise BadInput(message, code="no_such_paper", fields={"paper": [message]})
    return paper


def print_cards(cards: CardSet, paper: str) -> bytes:
    """Return the sheets as PDF; raises BadInput if there's no card to print, NoPrinter where the machine can't."""
    if not cards.cards:
        message = "No card of this activity can be printed: its page of cards says why."
        raise BadInput(message, code="no_card", fields={"cards": [message]})
    context = {"cards": cards, "sheets": cards.sheets(paper), "paper": paper, "style": read_style("card_sheet.css")}
    return print_pdf(render_to_string("anomalies/paper/cards.html", context))


def _read_card(revision: ProcedureRevision) -> Card:
    heading = write_heading(revision.procedure.number, revision.number, revision.procedure.title)
    return Card(revision, heading, read_step_rows(revision.read_steps()))
