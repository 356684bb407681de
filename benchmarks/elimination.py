"""The second exact engine on benchmark trees:  python -m benchmarks.elimination nus9601 --memory 9000 --seconds 900

Prints probability, time and peak memory. The largest tree, nus9601, has no published probability; variable
elimination finds it in some minutes and about 3.3 GiB on two cores.
"""

from __future__ import annotations

import argparse
import resource
import time

import numpy as np

from benchmarks.engine import trees_folder
from faulttree.engine.budget import Budget, Watch
from faulttree.engine.elimination.eliminate import eliminate_probability
from faulttree.engine.errors import LimitReached
from faulttree.engine.events.table import EventTable
from faulttree.engine.exchange.read_xml import read_open_psa
from faulttree.engine.logic.compile import compile_model
from faulttree.engine.validate import choose_top


def main() -> None:
    """Run the trees named one after the other."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("trees", nargs="+", help="names of trees")
    parser.add_argument("--memory", type=int, default=2048, help="MiB of tables (default 2048)")
    parser.add_argument("--seconds", type=float, default=120.0, help="time limit of each (default 120)")
    options = parser.parse_args()
    for name in options.trees:
        model = read_open_psa((trees_folder() / f"{name}.xml").read_bytes(), file=name)
        netlist = compile_model(model, choose_top(model))
        p: np.ndarray = EventTable(model, netlist.variables).probabilities(None)
        watch = Watch(Budget(nodes=200_000_000, seconds=options.seconds, memory_mib=options.memory))
        start = time.perf_counter()
        try:
            answer = f"{eliminate_probability(netlist, p, watch):.12e}"
        except LimitReached as reached:
            answer = str(reached)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
        print(f"{name:10} {answer}   {time.perf_counter() - start:.2f} s   peak {peak:,.0f} MiB", flush=True)


if __name__ == "__main__":
    main()
