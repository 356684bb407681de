"""Throughput of uncertainty runs:  python -m benchmarks.uncertainty [--samples 40000] [--processes 2]

One tree made by seed, every parameter uncertain, the same draws for all, in samples times nodes per second; nodes
are those of the tree's decision diagrams. What each computes:

  engine      exact probability of the top event of every sample, by one pass over the diagrams
  processes   the same, its blocks shared out to worker processes; answers must be equal to the last digit
  cut sets    numpy over all minimal cut sets: product over the events of each, then the min-cut upper bound
              1 - prod(1 - product) - an approximation from above, and what is left to do without diagrams

Drawing the numbers is timed apart, since both need it. The best of three rounds counts.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from functools import lru_cache
from multiprocessing import get_context

import numpy as np
from numpy.typing import NDArray

from benchmarks.trees import make_tree
from faulttree.engine.analysis.probability import evaluate_batch
from faulttree.engine.analysis.uncertainty import Block, sample_block, split_samples, summarise
from faulttree.engine.budget import Watch
from faulttree.engine.diagrams.solution import Solution, solve
from faulttree.engine.events.sampling import Sampling
from faulttree.engine.events.table import EventTable
from faulttree.engine.logic.compile import compile_model
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request

EVENTS, SEED = 200, 4
MISSION_TIME = 1000.0  # hours
METHOD = "latin-hypercube"
ROUNDS = 3
CHUNK = 500  # samples at once in numpy: keeps its table in the processor's caches


@lru_cache(maxsize=1)
def prepare() -> tuple[Solution, EventTable]:
    """The tree solved, once in each process."""
    netlist = compile_model(make_tree(EVENTS, SEED, uncertain=True), "TOP")
    return solve(netlist, Watch()), EventTable(make_tree(EVENTS, SEED, uncertain=True), netlist.variables)


def compute_block(bounds: tuple[int, int, int]) -> Block:
    """One block of a run; called in workers too."""
    samples, start, stop = bounds
    solution, table = prepare()
    return sample_block(solution, table, MISSION_TIME, Sampling(samples, SEED, METHOD, start, stop))


def warm_up(_: int) -> None:
    """Load the kernels and solve the tree before the clock starts."""
    compute_block((100, 0, 100))


def list_cut_sets() -> list[list[int]]:
    """All minimal cut sets as places of events."""
    _, table = prepare()
    place = {name: i for i, name in enumerate(table.names)}
    request = Request(mission_time=MISSION_TIME, list_count=1_000_000, unions=False)
    found = quantify(make_tree(EVENTS, SEED, uncertain=True), request).cut_sets
    assert found is not None
    assert len(found.listed) == found.count
    return [[place[name] for name in cut.events] for cut in found.listed]


def evaluate_cut_sets(groups: list[NDArray[np.intp]], p: NDArray[np.float64]) -> NDArray[np.float64]:
    """Min-cut upper bound of each sample; cut sets of one order stand in one array."""
    out = np.empty(len(p))
    for start in range(0, len(p), CHUNK):
        rows = p[start : start + CHUNK]
        fails = np.ones(len(rows))
        for group in groups:
            fails *= np.prod(1.0 - np.prod(rows[:, group], axis=2), axis=1)
        out[start : start + CHUNK] = 1.0 - fails
    return out


def best(compute: Callable[[], object]) -> float:
    """Least seconds of some rounds."""
    seconds = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        compute()
        seconds.append(time.perf_counter() - start)
    return min(seconds)


def main() -> None:
    """Print the measurements."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--samples", type=int, default=40_000)
    parser.add_argument("--processes", type=int, default=2)
    options = parser.parse_args()
    samples: int = options.samples
    solution, table = prepare()
    cuts = list_cut_sets()
    groups = [np.array([cut for cut in cuts if len(cut) == order]) for order in sorted({len(cut) for cut in cuts})]
    blocks = [(samples, start, stop) for start, stop in split_samples(samples)]
    print(f"{EVENTS} events, {solution.nodes:,} nodes, {len(cuts):,} minimal cut sets, {samples:,} samples")
    warm_up(0)
    serial = [compute_block(block) for block in blocks]
    whole = best(lambda: [compute_block(block) for block in blocks])
    together = best(lambda: summarise(serial, SEED, METHOD))
    draws = table.sample(MISSION_TIME, Sampling(samples, SEED, METHOD, 0, samples)).probability
    evaluated = best(lambda: evaluate_batch(solution, draws))
    plain = best(lambda: evaluate_cut_sets(groups, draws))
    bound, exact = evaluate_cut_sets(groups, draws), evaluate_batch(solution, draws)
    context = get_context("spawn")
    with ProcessPoolExecutor(options.processes, mp_context=context) as pool:
        list(pool.map(warm_up, range(4 * options.processes)))
        shared = list(pool.map(compute_block, blocks))
        split = best(lambda: list(pool.map(compute_block, blocks)))
    assert summarise(shared, SEED, METHOD) == summarise(serial, SEED, METHOD)
    work = samples * solution.nodes

    def tell(name: str, seconds: float, beside: float, what: str) -> None:
        print(f"  {name:34} {seconds:8.3f} s {work / seconds / 1e6:10.1f} M/s {beside / seconds:7.2f}   {what}")

    print(f"  {'':34} {'seconds':>10} {'samples x nodes':>14} {'ratio':>7}")
    tell("engine, evaluation alone", evaluated, evaluated, "exact; 1 by definition")
    tell(
        "cut sets in numpy",
        plain,
        evaluated,
        f"upper bound, on average {100.0 * np.mean(bound / exact - 1.0):.2g} % too high",
    )
    tell("engine, drawing and evaluation", whole, whole, "one process; 1 by definition")
    tell(f"the same in {options.processes} processes", split, whole, "equal to the last digit")
    tell("putting together, with drivers", together, whole, "one process; not in the two lines above")


if __name__ == "__main__":
    main()
