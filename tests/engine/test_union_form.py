"""Leaving the union form of Fussell-Vesely out changes nothing else, and is said."""

from __future__ import annotations

from dataclasses import asdict

from benchmarks.trees import make_tree
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request


def test_without_unions_every_other_figure_is_the_same() -> None:
    model = make_tree(40, 3)
    whole = quantify(model, Request(mission_time=100.0))
    lean = quantify(model, Request(mission_time=100.0, unions=False))
    assert lean.probability == whole.probability
    assert lean.cut_sets == whole.cut_sets
    for name, measures in lean.importance.items():
        assert measures.fussell_vesely_union is None
        assert whole.importance[name].fussell_vesely_union is not None
        expected = {**asdict(whole.importance[name]), "fussell_vesely_union": None}
        assert asdict(measures) == expected
    assert "The union form of Fussell-Vesely was not asked for." in lean.notes
    assert "The union form of Fussell-Vesely was not asked for." not in whole.notes


def test_made_trees_are_coherent_whole_and_the_same_for_a_seed() -> None:
    for events in (2, 50, 200):
        model = make_tree(events, 2, uncertain=True)
        assert model == make_tree(events, 2, uncertain=True)
        result = quantify(model, Request(mission_time=100.0))
        assert (result.events, result.coherent, result.top) == (events, True, "TOP")
