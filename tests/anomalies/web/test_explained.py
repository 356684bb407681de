"""Figures that explain themselves: each number in an explanation is the one that enumeration of all states gives."""

from __future__ import annotations

import math

import pytest
from django.http import Http404
from scipy.stats import entropy

import anomalies.web.explanations  # noqa: F401  # enters the explanations
from anomalies.reads.investigations import read_investigation
from anomalies.web.explained import FIGURES, explained, find_explained
from config.kit.figures import write_plain, write_share
from faulttree.bridge import read_current
from faulttree.facade import Piece
from tests.anomalies.fault_trees import EVENTS, enter, judge, make_investigation, plan
from tests.engine.diagnosis.joint import Joint

pytestmark = pytest.mark.django_db
TEST = {"sensitivity": 0.9, "false_alarm": 0.05, "found": False}


@pytest.fixture
def investigation():
    """A valve that a test did not find, and pump-1 four times likelier than before."""
    made = make_investigation()
    enter(made, "valve", "test", **TEST)
    enter(made, "pump-1", "ratio", ratio=4.0)
    return made.reread()


PIECES = [Piece("B1", "valve", (1 - 0.9) / (1 - 0.05)), Piece("B2", "pump-1", 4.0)]


def joint_of(investigation):
    return Joint(read_current(investigation.revision), "no-flow", EVENTS)


def explain(investigation, figure, of):
    return find_explained("investigation", figure, read_investigation(investigation), of)


def words(shown):
    """All that an explanation says."""
    inputs = (f"{each.name} {each.value} {each.where}" for each in shown.inputs)
    return "\n".join((shown.value, *shown.formula, *inputs))


@pytest.mark.parametrize("name", [*EVENTS, "both"])
def test_a_prior(investigation, name):
    """Source: enumeration of all states."""
    shown = explain(investigation, "prior", name)
    assert shown.value == write_plain(joint_of(investigation).prior(name), 6)
    assert shown.source
    assert shown.assumptions


@pytest.mark.parametrize("name", [*EVENTS, "both"])
def test_a_probability_given_the_top_event(investigation, name):
    """Source: enumeration of all states; the formula holds P(event and top) and P(top)."""
    joint = joint_of(investigation)
    top = float(joint.weigh([]))
    both = float(joint.weigh([], lambda state: joint.is_true(name, state)))
    shown = explain(investigation, "given-top", name)
    assert shown.value == write_share(both / top)
    assert f"{write_plain(both, 6)} / {write_plain(top, 6)} = {write_plain(both / top, 6)}" in shown.formula[-1]


@pytest.mark.parametrize("name", [*EVENTS, "both"])
def test_a_posterior(investigation, name):
    """Source: enumeration of all states."""
    joint = joint_of(investigation)
    expected = joint.find_posterior(PIECES, name)
    shown = explain(investigation, "posterior", name)
    assert shown.value == write_share(expected)
    assert f"with E {write_plain(expected, 6)}" in shown.formula[-1]
    ratios = [each.value.partition(",")[0] for each in shown.inputs if each.value.startswith("L = ")]
    assert ratios == [f"L = {write_plain(piece.ratio, 4)}" for piece in PIECES]


@pytest.mark.parametrize("name", EVENTS)
def test_the_posterior_of_an_event_tells_its_way(investigation, name):
    """Source: enumeration, with one piece and then with both."""
    joint = joint_of(investigation)
    shown = explain(investigation, "posterior", name)
    told = [each.value.partition("then ")[2] for each in shown.inputs if each.value.startswith("L = ")]
    assert told == [write_share(joint.find_posterior(PIECES[:count], name)) for count in (1, 2)]


@pytest.mark.parametrize("events", [("valve",), ("pump-1", "pump-2")])
def test_an_explanation(investigation, events):
    """Source: enumeration: that all events of the cut set occurred."""
    joint = joint_of(investigation)
    share = joint.weigh(PIECES, lambda state: all(state[name] for name in events)) / joint.weigh(PIECES)
    shown = explain(investigation, "explanation", "+".join(events))
    assert shown.value == write_share(float(share))
    assert write_plain(math.prod(float(joint.p[name]) for name in events), 6) in words(shown)


def test_a_likelihood_ratio(investigation):
    """Source: Bayes' theorem in odds form: (1 - s)/(1 - f) where a test did not find it."""
    shown = explain(investigation, "ratio", "B1")
    assert shown.value == write_plain(0.1 / 0.95, 4)
    assert "(1 − s) / (1 − f)" in shown.formula[-1]
    assert explain(investigation, "ratio", "B2").value == write_plain(4.0, 4)


def test_a_fact_has_no_ratio_but_its_limit(investigation):
    judge(investigation, "ruled_out", "pump-2")
    enter(investigation, "valve", "occurred")
    assert explain(investigation.reread(), "ratio", "= pump-2").value.startswith("0 ")
    assert explain(investigation.reread(), "ratio", "B3").value.startswith("∞")


def test_the_information_of_an_inspection(investigation):
    """Source: I(X;Y) = H(X) - H(X|Y), entropies by scipy.stats.entropy, on posteriors by enumeration."""
    plan(investigation, "both", sensitivity=0.8, false_alarm=0.1)
    p = joint_of(investigation).find_posterior(PIECES, "both")
    positive = p * 0.8 + (1 - p) * 0.1
    after = positive * entropy([p * 0.8, (1 - p) * 0.1], base=2)
    after += (1 - positive) * entropy([p * 0.2, (1 - p) * 0.9], base=2)
    shown = explain(investigation, "bits", "I1")
    assert shown.value == f"{entropy([p, 1 - p], base=2) - after:.4f} bit"
    assert f"{positive:.4g}" in shown.formula[1]


NONSENSE = [("posterior", "tap"), ("prior", ""), ("explanation", "valve+tap"), ("ratio", "B9"), ("bits", "I9")]


@pytest.mark.parametrize(("figure", "of"), [*NONSENSE, ("guess", "valve")])
def test_what_is_no_figure_is_not_found(investigation, figure, of):
    with pytest.raises(Http404):
        explain(investigation, figure, of)


def test_in_a_conflict_there_is_no_posterior(investigation):
    for name in EVENTS:
        judge(investigation, "ruled_out", name)
    with pytest.raises(Http404):
        explain(investigation.reread(), "posterior", "valve")
    assert explain(investigation.reread(), "given-top", "valve").value == write_share(0.01 / 0.0298)


def test_a_figure_has_one_explanation():
    assert ("investigation", "posterior") in FIGURES
    with pytest.raises(ValueError, match="explained already"):
        explained("investigation", "posterior")(lambda view, of: None)
