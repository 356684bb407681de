"""What was done, in words: the ledger's dotted names as the second half of a sentence that begins with a name."""

from __future__ import annotations

DEEDS: dict[str, str] = {
    "anomaly.draft": "began a draft",
    "anomaly.report": "reported it",
    "anomaly.submit": "reported the draft",
    "anomaly.discard": "discarded the draft",
    "anomaly.edit": "edited the story",
    "anomaly.add_hardware": "added hardware",
    "anomaly.remove_hardware": "took hardware off the list",
    "anomaly.screen": "screened it",
    "anomaly.dismiss": "dismissed it",
    "anomaly.restore": "restored it",
    "anomaly.reassess": "reassessed the risk",
    "anomaly.assign": "changed the lead",
    "anomaly.close": "closed it",
    "anomaly.reopen": "reopened it",
    "anomaly.accept_unexplained": "accepted it as unexplained",
    "anomaly.retract_acceptance": "retracted the acceptance",
    "constraint.impose": "imposed a constraint",
    "constraint.resolve": "resolved a constraint",
    "constraint.reinstate": "reinstated a constraint",
    "link.make": "linked it",
    "link.withdraw": "withdrew a link",
    "sign_off.sign": "signed",
}


def write_deed(action: str) -> str:
    """Return the words for an action; one that isn't listed as “recorded: <move> (<kind>)”."""
    if action in DEEDS:
        return DEEDS[action]
    kind, _, move = action.replace("_", " ").partition(".")
    return f"recorded: {move} ({kind})" if move else f"recorded: {kind}"
