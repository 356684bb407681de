"""What options do to a stored tree: the figures of the engine, and refusals as sentences."""

from __future__ import annotations

import pytest

from faulttree.charts.waterfall import draw_waterfall
from faulttree.engine.effects.kinds import Effect, EffectKind, Limits, Option
from faulttree.reads.effects import NoBenefit, check_effect, list_targets, read_benefit, read_choice
from tests.faulttree.people import make_engineer, make_revision

pytestmark = pytest.mark.django_db
K = EffectKind
OPTIONS = [Option("A", cost=2.0), Option("B", cost=1.0)]
EFFECTS = [Effect("A", K.RULED_OUT, "valve"), Effect("B", K.BARRIER, "both", 0.5)]


@pytest.fixture
def revision():
    return make_revision(make_engineer())


def test_benefit_is_exact(revision):
    found = read_benefit(revision, "no-flow", None, OPTIONS, EFFECTS)
    assert found.before.probability == pytest.approx(1 - 0.98 * 0.99)
    assert found.alone["A"].probability == pytest.approx(0.02)
    assert found.alone["B"].probability == pytest.approx(1 - 0.99 * 0.99)
    assert found.together is not None
    assert found.together.probability == pytest.approx(0.01)


def test_choice_keeps_to_the_limits(revision):
    found = read_choice(revision, "no-flow", None, OPTIONS, EFFECTS, Limits(cost=1.0))
    assert found.chosen == ("B",)
    assert read_choice(revision, "no-flow", None, OPTIONS, EFFECTS, Limits()).chosen == ("A", "B")


def test_what_can_not_be_computed_is_a_sentence(revision):
    with pytest.raises(NoBenefit, match="no event hose"):
        read_benefit(revision, "no-flow", None, [Option("A")], [Effect("A", K.RULED_OUT, "hose")])
    with pytest.raises(NoBenefit, match="limit is 1"):
        read_choice(revision, "no-flow", None, OPTIONS, EFFECTS, Limits(cost=1.0), must=["A"])


def test_targets_say_what_can_be_changed(revision):
    found = {each.name: each for each in list_targets(revision, "no-flow")}
    assert set(found) == {"no-flow", "both", "valve", "pump-1", "pump-2"}
    assert found["both"].is_gate
    assert not found["valve"].is_tested


@pytest.mark.parametrize(
    ("effect", "told"),
    [
        (Effect("", K.MULTIPLIED, "valve", 2.0, "rate"), "no failure rate"),
        (Effect("", K.INTERVAL, "valve", 2.0), "not tested"),
        (Effect("", K.REPLACED, "valve", 2.0), "Give 0 to 1"),
        (Effect("", K.DETECTION, "both", 0.5), "is a gate"),
    ],
)
def test_an_effect_that_can_not_be_had_is_refused(revision, effect, told):
    with pytest.raises(NoBenefit, match=told):
        check_effect(revision, effect)


def test_the_waterfall_tells_every_step(revision):
    weighed = read_benefit(revision, "no-flow", None, OPTIONS, EFFECTS)
    chart = draw_waterfall(weighed, {"A": "New <valve>"})
    assert chart.count("waterfall-bar") == 4
    assert "New &lt;valve&gt;" in chart
    assert "style=" not in chart
    assert draw_waterfall(read_benefit(revision, "no-flow", None, [], []), {}) == ""


def test_the_waterfall_ends_where_nothing_is_left(revision):
    effects = [*EFFECTS, Effect("B", K.RULED_OUT, "pump-1")]
    chart = draw_waterfall(read_benefit(revision, "no-flow", None, OPTIONS, effects), {})
    assert "All together 0" in chart
    assert "NaN" not in chart
