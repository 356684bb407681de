"""An uncertainty run in blocks: split anyhow, it gives the same digits."""

from __future__ import annotations

import numpy as np
import pytest

from faulttree.engine.analysis.uncertainty import Block, kept_samples, sample_block, summarise
from faulttree.engine.budget import Watch
from faulttree.engine.diagrams.solution import Solution, solve
from faulttree.engine.events.sampling import METHODS, Sampling, Source
from faulttree.engine.events.table import EventTable
from faulttree.engine.logic.compile import compile_model
from faulttree.engine.model import Model
from tests.engine.events.builders import call, make_events
from tests.engine.models import both, make_model

SAMPLES = 5_000


def prepare() -> tuple[Solution, EventTable]:
    """A AND B AND C: a shared rate under A and B, two deviates in C."""
    rate = call("lognormal-deviate", 1e-3, 3.0, 0.95)
    events = make_events({"A": "rate", "B": "rate"}, {"rate": rate})
    own = call("mul", call("uniform-deviate", 0.1, 0.3), call("beta-deviate", 2.0, 8.0))
    plain = make_model({"TOP": both("A", "B", "C")}, {"A": 0.0, "B": 0.0, "C": own})
    model = Model(
        gates=plain.gates, basic_events={**plain.basic_events, **events.basic_events}, parameters=events.parameters
    )
    netlist = compile_model(model, "TOP")
    return solve(netlist, Watch()), EventTable(model, netlist.variables)


def cut(method: str, edges: list[int]) -> list[Block]:
    """The run of SAMPLES samples, split at some edges."""
    solution, table = prepare()
    bounds = zip([0, *edges], [*edges, SAMPLES], strict=True)
    return [sample_block(solution, table, None, Sampling(SAMPLES, 7, method, start, stop)) for start, stop in bounds]


@pytest.mark.parametrize("method", METHODS)
def test_a_run_gives_the_same_digits_however_it_is_split(method: str) -> None:
    whole = summarise(cut(method, []), 7, method)
    assert summarise(cut(method, [1, 777, 2_001, 4_999]), 7, method) == whole
    assert summarise(reversed(cut(method, [1_234, 3_210])), 7, method) == whole


def test_missing_or_doubled_samples_are_refused() -> None:
    blocks = cut("monte-carlo", [1_000, 3_000])
    for wrong in (blocks[1:], [blocks[0], blocks[2]], [*blocks, blocks[1]]):
        with pytest.raises(ValueError, match="follow each other"):
            summarise(wrong, 7, "monte-carlo")


def test_a_block_names_each_random_number_once() -> None:
    block = cut("latin-hypercube", [])[0]
    assert set(block.sources) == {
        Source("parameter rate", 0),
        Source("basic event C", 0),
        Source("basic event C", 1),
    }
    rate = block.drawn[:, block.sources.index(Source("parameter rate", 0))]
    first = block.drawn[:, block.sources.index(Source("basic event C", 0))]
    second = block.drawn[:, block.sources.index(Source("basic event C", 1))]
    assert np.allclose(block.tops, rate**2 * first * second, rtol=1e-12, atol=0.0)


def test_memory_of_a_large_run_is_bounded() -> None:
    assert kept_samples(5_000, 3) == 5_000
    assert kept_samples(1_000_000, 3) == 50_000
    assert kept_samples(1_000_000, 200) * 200 * 8 == 32_000_000
    assert kept_samples(1_000_000, 100_000) == 2_000
