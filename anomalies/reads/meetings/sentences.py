"""What the minutes say of an entry of the ledger: which entries count, where they stand, and in what words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

from django.contrib.auth.models import User

from anomalies.models import (
    Activity,
    Anomaly,
    Cause,
    Concurrence,
    CorrectiveAction,
    Finding,
    Investigation,
    LedgerEntry,
)
from anomalies.people import name_of
from anomalies.risk import write_code
from config.kit.permissions import Actor, allows

Held: TypeAlias = Mapping[str, Any]
"""What a record held after an entry, as the ledger has it: empty values are left out."""


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the minutes, and the rule that its readers need."""

    name: str
    head: str
    rule: str

    def suits(self, actor: Actor) -> bool:
        """Tell whether the person may read it."""
        return allows(actor, self.rule)


PARTS = (
    Part("screening", "Screening", "anomaly.view"),
    Part("finding", "Findings", "anomaly.view"),
    Part("position", "Positions on findings", "anomaly.view"),
    Part("cause", "Causes, and events of fault trees", "anomaly.view"),
    Part("action", "Corrective actions", "action.view"),
    Part("closure", "Closures and accepted risks", "anomaly.view"),
    Part("readiness", "Waivers and readiness", "readiness_review.view"),
)


class Names:
    """How records are called in a sentence; each is asked for once. What they are called by never changes."""

    def __init__(self) -> None:
        self._found: dict[tuple[type[Any], int], Any] = {}

    def find(self, model: type[Any], key: int) -> Any:
        """Return the record."""
        if (model, key) not in self._found:
            self._found[model, key] = model._base_manager.get(pk=key)
        return self._found[model, key]

    def person(self, key: int | None) -> str:
        """Return somebody's name."""
        return name_of(self.find(User, key)) if key else "nobody"

    def number(self, anomaly_id: int) -> str:
        """Return the number of an anomaly."""
        return str(self.find(Anomaly, anomaly_id).number)


@dataclass(frozen=True, slots=True)
class Told:
    """What is said of an entry, and the record it leads to."""

    part: str
    text: str
    kind: str
    key: int


Teller: TypeAlias = Callable[[LedgerEntry, Held, Held, Names], str]
"""Takes the entry, what its record and the finding it's about held then, and names; returns the sentence."""


def _anomaly(words: str) -> Teller:
    def tell(entry: LedgerEntry, held: Held, _: Held, names: Names) -> str:
        return f"{names.number(entry.record_id)}, {held['title']}: {words}."

    return tell


def _screen(entry: LedgerEntry, held: Held, _: Held, names: Names) -> str:
    code = write_code(held["severity"], held["probability"])
    lead = names.person(held.get("lead_id"))
    return f"{names.number(entry.record_id)}, {held['title']}: screened, risk {code}, {lead} leads the work."


def _finding(words: str) -> Teller:
    def tell(entry: LedgerEntry, held: Held, _: Held, names: Names) -> str:
        return f"F{held['position']} of {names.number(held['anomaly_id'])} {words}: {held['statement']}"

    return tell


def _position(entry: LedgerEntry, held: Held, about: Held, names: Names) -> str:
    finding = names.find(Finding, held["finding_id"])
    who, name = names.person(held["member_id"]), f"F{finding.position} of {names.number(finding.anomaly_id)}"
    verb = "dissents from" if held["stand"] == Concurrence.Stand.DISSENTS else "concurs with"
    grounds = f" Grounds: {held['text']}" if held.get("text") else ""
    return f"{who} {verb} {name}, in its wording {held['wording']}: {about['statement']}{grounds}"


def _cause(words: str) -> Teller:
    def tell(entry: LedgerEntry, held: Held, _: Held, names: Names) -> str:
        kind = Cause.Kind(held["kind"]).label.lower()
        name = f"C{held['position']} of {names.number(held['anomaly_id'])}"
        return f"{name} ({kind}) {words}: {held['statement']}"

    return tell


def _event(words: str) -> Teller:
    def tell(entry: LedgerEntry, held: Held, _: Held, names: Names) -> str:
        investigation = names.find(Investigation, held["investigation_id"])
        return f"Event {held['event']} of the fault tree of {names.number(investigation.anomaly_id)} {words}."

    return tell


def _action(words: str) -> Teller:
    def tell(entry: LedgerEntry, held: Held, _: Held, names: Names) -> str:
        return f"{names.find(CorrectiveAction, entry.record_id).number}, {held['title']}: {words}."

    return tell


def _commit(entry: LedgerEntry, held: Held, _: Held, names: Names) -> str:
    number = names.find(CorrectiveAction, entry.record_id).number
    due = f"{names.person(held['owner_id'])} owns it, due on {held['due_on']}"
    return f"{number}, {held['title']}: committed, {due}. It is done when: {held['acceptance_criteria']}"


def _waiver(words: str) -> Teller:
    def tell(entry: LedgerEntry, held: Held, _: Held, names: Names) -> str:
        activity = names.find(Activity, held["activity_id"])
        return f"{activity}: waiver {words}, until {held['expires_at'][:10]}: {held['title']}"

    return tell


def _verdict(entry: LedgerEntry, held: Held, _: Held, names: Names) -> str:
    activity, verdict = names.find(Activity, held["activity_id"]), {"go": "go", "no_go": "no-go"}
    return f"Readiness of {activity}: round {held['round']} signed {verdict[held['verdict']]}."


def _resume(entry: LedgerEntry, held: Held, _: Held, names: Names) -> str:
    return f"Readiness of {names.find(Activity, held['activity_id'])}: round {held['round']} begun."


TELLERS: dict[str, tuple[str, Teller]] = {
    "anomaly.screen": ("screening", _screen),
    "anomaly.dismiss": ("screening", _anomaly("dismissed")),
    "anomaly.restore": ("screening", _anomaly("taken up again after it was dismissed")),
    "finding.adopt": ("finding", _finding("adopted")),
    "finding.send_back": ("finding", _finding("sent back to the board")),
    "finding.withdraw": ("finding", _finding("withdrawn")),
    "finding.concur": ("position", _position),
    "finding.dissent": ("position", _position),
    "cause.find_credible": ("cause", _cause("found credible")),
    "cause.rule_out": ("cause", _cause("ruled out")),
    "cause.confirm": ("cause", _cause("confirmed")),
    "cause.reconsider": ("cause", _cause("opened again")),
    "disposition.open": ("cause", _event("opened again")),
    "disposition.credible": ("cause", _event("found credible")),
    "disposition.ruled_out": ("cause", _event("ruled out")),
    "disposition.confirmed": ("cause", _event("confirmed")),
    "action.commit": ("action", _commit),
    "action.recommit": ("action", _commit),
    "action.verify": ("action", _action("verified")),
    "action.send_back": ("action", _action("sent back, to be done again")),
    "action.find_effective": ("action", _action("found effective")),
    "action.drop": ("action", _action("dropped")),
    "action.reopen": ("action", _action("reopened")),
    "anomaly.accept_unexplained": ("closure", _anomaly("its risk is accepted, the cause unexplained")),
    "anomaly.retract_acceptance": ("closure", _anomaly("the acceptance of its risk is retracted")),
    "anomaly.close": ("closure", _anomaly("closed")),
    "anomaly.reopen": ("closure", _anomaly("reopened")),
    "waiver.grant": ("readiness", _waiver("granted")),
    "waiver.withdraw": ("readiness", _waiver("withdrawn")),
    "readiness_review.conclude": ("readiness", _verdict),
    "readiness_review.resume": ("readiness", _resume),
}
"""Action of the ledger -> the part of the minutes it belongs to, and the words."""


def tell(entry: LedgerEntry, held: Held, about: Held, names: Names) -> Told:
    """Return what is said of an entry; a position leads to its finding, all else to its own record."""
    part, teller = TELLERS[entry.action]
    text = teller(entry, held, about, names)
    if entry.kind == Concurrence.KIND:
        return Told(part, text, Finding.KIND, held["finding_id"])
    return Told(part, text, entry.kind, entry.record_id)
