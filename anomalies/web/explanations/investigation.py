"""The figures of an investigation: prior, posterior, explanations, likelihood ratios, information."""

from __future__ import annotations

import math

from anomalies.models import Bearing
from anomalies.reads.investigations import InvestigationView, describe_bearing
from anomalies.reads.known import Known
from anomalies.web.explained import Explained, Input, explained
from config.kit.figures import write_plain, write_share
from faulttree.facade import Moved

INDEPENDENT = "Basic events are independent of each other, except through the common-cause groups that the tree has."
GIVEN_STATE = "Evidence depends on the tree through its own event alone: given that, it's independent of all else."
COMPLETE = "The tree is complete: every way in which the top event can come about is in it."
BAYES = "Bayes' theorem, as in any textbook of probability (from memory); computed exactly on the decision diagram."
DIGITS = 6


@explained("investigation", "prior")
def explain_prior(view: InvestigationView, of: str) -> Explained | None:
    """The probability before anything is known."""
    moved = _find(view, of)
    if moved is None:
        return None
    return Explained(
        f"Prior probability of {view.labels[of]}",
        write_plain(moved.prior, DIGITS),
        "How likely it is before anything is known, not even that the top event happened.",
        (f"P({of}) = {write_plain(moved.prior, DIGITS)}",),
        _base(view),
        ("The failure model and its numbers apply to this hardware in this activity.", INDEPENDENT),
        "The event's failure model in the tree; of a gate, the exact probability of its logic.",
    )


@explained("investigation", "given-top")
def explain_given_top(view: InvestigationView, of: str) -> Explained | None:
    """The probability given the top event alone."""
    moved = _find(view, of)
    if moved is None or view.posterior is None:
        return None
    top = view.posterior.top_probability
    joint = moved.given_top * top
    return Explained(
        f"Probability of {view.labels[of]}, given that the top event happened",
        write_share(moved.given_top),
        "What the bare fact that the top event happened makes of the prior, before any evidence.",
        (
            f"P({of} | {view.parts.top}) = P({of} and {view.parts.top}) / P({view.parts.top})",
            f"= {write_plain(joint, DIGITS)} / {write_plain(top, DIGITS)} = {write_plain(moved.given_top, DIGITS)}",
        ),
        (*_base(view), Input("prior", write_plain(moved.prior, DIGITS), "the event's failure model")),
        (COMPLETE, INDEPENDENT),
        BAYES,
    )


@explained("investigation", "posterior")
def explain_posterior(view: InvestigationView, of: str) -> Explained | None:
    """The probability given the top event and all evidence."""
    moved = _find(view, of)
    if moved is None or moved.posterior is None or view.posterior is None:
        return None
    way = [step.posterior[of] for step in view.posterior.steps if of in step.posterior]
    rows = [
        Input(
            known.label,
            f"L = {_write_ratio(known.ratio)}" + (f", then {write_share(value)}" if value is not None else ""),
            _say(known),
            known.record.get_absolute_url(),
        )
        for known, value in zip(view.known, [*way[1:], *[None] * len(view.known)], strict=False)
    ]
    return Explained(
        f"Posterior probability of {view.labels[of]}",
        write_share(moved.posterior),
        "How likely it is that it occurred, given that the top event happened and all that was found.",
        (
            f"P({of} | T, E) = P({of}, T, E) / P(T, E);  T: {view.parts.top}, E: the evidence below, in its order",
            "A piece of evidence weighs each state of the tree by L where its event occurred, by 1 where it did not.",
            f"given T alone {write_plain(moved.given_top, DIGITS)}, with E {write_plain(moved.posterior, DIGITS)}",
        ),
        (*_base(view), Input("given the top event alone", write_share(moved.given_top)), *rows),
        (COMPLETE, INDEPENDENT, GIVEN_STATE),
        BAYES,
    )


@explained("investigation", "explanation")
def explain_explanation(view: InvestigationView, of: str) -> Explained | None:
    """The probability that all events of a cut set occurred."""
    found = next((each for each in view.explanations if "+".join(each.events) == of), None)
    if found is None:
        return None
    value = found.given_top if found.posterior is None else found.posterior
    names = " and ".join(found.events)
    rows = tuple(
        Input(name, write_share(row.belief), "posterior of the event by itself")
        for name in found.events
        for row in view.events
        if row.part.name == name
    )
    return Explained(
        f"Probability that {names} is an explanation",
        write_share(value),
        "That all events of this minimal cut set occurred, which is enough for the top event. Several explanations can "
        "hold at once, so they don't add up to 1.",
        (
            f"P({names} | T, E) = p · P(T, E | {names}) / P(T, E);  p: product of the events' weighted probabilities",
            f"= {write_plain(value, DIGITS)}",
        ),
        (*_base(view), Input("prior of the set", write_plain(found.prior, DIGITS), "product of the priors"), *rows),
        (COMPLETE, INDEPENDENT, GIVEN_STATE),
        BAYES,
    )


@explained("investigation", "ratio")
def explain_ratio(view: InvestigationView, of: str) -> Explained | None:
    """The likelihood ratio of a piece of evidence."""
    known = next((each for each in (*view.known, *view.lost) if each.key == of), None)
    if known is None:
        return None
    record = known.record
    inputs: tuple[Input, ...] = ()
    formula: tuple[str, ...] = ("L = P(this evidence | the event occurred) / P(this evidence | it did not)",)
    if isinstance(record, Bearing) and record.says == Bearing.Says.TEST:
        s, f = record.sensitivity or 0.0, record.false_alarm or 0.0
        inputs = (Input("sensitivity s", f"{s:g}"), Input("false-alarm rate f", f"{f:g}"))
        line = f"s / f = {s:g} / {f:g}" if record.found else f"(1 − s) / (1 − f) = {1 - s:g} / {1 - f:g}"
        formula = (*formula, f"L = {line} = {_write_ratio(known.ratio)}")
    else:
        formula = (*formula, f"L = {_write_ratio(known.ratio)}")
    return Explained(
        f"Likelihood ratio of {known.label}",
        _write_ratio(known.ratio),
        "How many times likelier this evidence is if the event occurred than if it did not. It multiplies the odds of "
        "the event: above 1 it speaks for it, below 1 against it.",
        formula,
        (*inputs, Input("why", _say(known), url=record.get_absolute_url())),
        ("The rates hold for this test as it was done here.", GIVEN_STATE),
        "Bayes' theorem in odds form (from memory).",
    )


@explained("investigation", "bits")
def explain_bits(view: InvestigationView, of: str) -> Explained | None:
    """The expected information of an inspection."""
    row = next((each for each in view.inspections if each.inspection.label == of), None)
    if row is None or row.worth is None:
        return None
    worth, asked = row.worth, row.inspection
    p, s, f = worth.target_probability, asked.sensitivity, asked.false_alarm
    return Explained(
        f"Expected information of {asked.title}",
        f"{worth.bits:.4f} bit",
        "How much its result is expected to tell of what happened: 0 for nothing, 1 bit for a fair yes or no. Since "
        "the result depends on the tree through this event alone, it is also what it tells of all events together.",
        (
            "I = H(q) − P·H(s) − (1 − P)·H(f);  q = P·s + (1 − P)·f;  H(x) = −x·log2 x − (1 − x)·log2(1 − x)",
            f"q = {p:.4g}·{s:g} + {1 - p:.4g}·{f:g} = {worth.positive_probability:.4g}",
            f"I = {_entropy(worth.positive_probability):.4f} − {p:.4g}·{_entropy(s):.4f} "
            f"− {1 - p:.4g}·{_entropy(f):.4f} = {worth.bits:.4f} bit",
        ),
        (
            Input("P", f"{p:.5g}", f"posterior of {asked.event} now"),
            Input("sensitivity s", f"{s:g}", asked.basis or "no basis given"),
            Input("false-alarm rate f", f"{f:g}", asked.basis or "no basis given"),
        ),
        (GIVEN_STATE, "The price is what it says; that the look itself may change the hardware isn't counted."),
        "Shannon 1948; Cover and Thomas, Elements of Information Theory, chapter 2 (from memory).",
    )


def _find(view: InvestigationView, of: str) -> Moved | None:
    return next((row.moved for row in (*view.events, *view.gates) if row.part.name == of), None)


def _base(view: InvestigationView) -> tuple[Input, ...]:
    investigation = view.investigation
    hours = investigation.mission_time
    revision = investigation.revision
    tree = Input("tree", f"{revision.tree.name}, revision {revision.number}", "in use", revision.get_absolute_url())
    top = Input("top event", view.parts.top, view.labels.get(view.parts.top, ""))
    return (tree, top) if hours is None else (tree, top, Input("mission time", f"{hours:g} h"))


def _say(known: Known) -> str:
    if isinstance(known.record, Bearing):
        return f"{describe_bearing(known.record)}: {known.record.justification}"
    return known.record.rationale


def _write_ratio(ratio: float) -> str:
    return "∞ (it occurred)" if math.isinf(ratio) else "0 (it did not occur)" if ratio == 0 else write_plain(ratio, 4)


def _entropy(x: float) -> float:
    return sum(-q * math.log2(q) for q in (x, 1.0 - x) if q > 0.0)
