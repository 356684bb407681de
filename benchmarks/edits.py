"""From an edit of a tree to its figures, engine time:  python -m benchmarks.edits [--trees 5] [--edits 20]

Trees of 50, 200 and 500 basic events made by seed, and edits of the kinds that people make, in turn: another
probability, one more event, an event used once more, an event taken out. After each edit the whole answer is
computed anew, with nothing kept from before: probability, count of minimal cut sets, the 100 likeliest, importance.
"Live" leaves out the union form of Fussell-Vesely; "whole" has it. Times are of warm kernels, edit included; the
processor's own time stands beside that of the clock, for machines that do other work too.
"""

from __future__ import annotations

import argparse
import random
import statistics
import time
from collections import Counter
from typing import Any

from benchmarks.trees import make_tree
from faulttree.engine.editing.edits import apply_edit
from faulttree.engine.editing.errors import EditRefused
from faulttree.engine.model import Model
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request
from faulttree.engine.results import Quantification

SIZES = (50, 200, 500)
MISSION_TIME = 1000.0  # hours
PARTS = 4  # the dearest, as the engine names them


def make_edit(draw: random.Random, model: Model, number: int) -> dict[str, Any]:
    """One edit; the kinds take turns."""
    event, gate = draw.choice(list(model.basic_events)), draw.choice(list(model.gates))
    kind = ("value", "add-event", "use", "remove")[number % 4]
    if kind == "value":
        return {"do": kind, "name": event, "expression": 10.0 ** draw.uniform(-4, -2)}
    if kind == "add-event":
        return {"do": kind, "under": gate, "expression": 10.0 ** draw.uniform(-4, -2)}
    if kind == "use":
        return {"do": kind, "name": event, "under": gate}
    return {"do": kind, "name": event}


def run_edits(model: Model, seed: int, count: int, *, unions: bool) -> tuple[list[float], list[float], Counter[str]]:
    """Seconds of each edit with its answer, by the clock and of the processor, and seconds by part of the engine."""
    draw = random.Random(seed)
    request = Request(mission_time=MISSION_TIME, unions=unions)
    quantify(model, request)
    times, used, parts = [], [], Counter[str]()
    number = 0
    while len(times) < count:
        edit = make_edit(draw, model, number)
        number += 1
        start, start_used = time.perf_counter(), time.process_time()
        try:
            model = apply_edit(model, edit).model
        except EditRefused:  # a repeated input, say: the next one
            continue
        result = quantify(model, request)
        times.append(time.perf_counter() - start)
        used.append(time.process_time() - start_used)
        parts.update(_by_part(result))
    return times, used, parts


def _by_part(result: Quantification) -> dict[str, float]:
    return {name: seconds for name, seconds in result.seconds.items() if name != "total"}


def main() -> None:
    """Print a line for each size and way."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--trees", type=int, default=5, help="trees of each size (default 5)")
    parser.add_argument("--edits", type=int, default=20, help="edits of each tree (default 20)")
    options = parser.parse_args()
    print(f"Edit to figures, engine time: {options.trees} trees of each size, {options.edits} edits of each, ms")
    print(f"{'events':>6}  {'answer':6} {'median':>7} {'95 %':>7} {'worst':>7} {'processor':>9}   dearest parts, mean")
    for size in SIZES:
        for name, unions in (("live", False), ("whole", True)):
            times, used, parts = [], [], Counter[str]()
            for seed in range(1, options.trees + 1):
                more, more_used, by_part = run_edits(make_tree(size, seed), seed, options.edits, unions=unions)
                times += more
                used += more_used
                parts.update(by_part)
            late = statistics.quantiles(times, n=20)[-1]
            dearest = ", ".join(f"{part} {1e3 * s / len(times):.1f}" for part, s in parts.most_common(PARTS))
            figures = " ".join(f"{1e3 * seconds:7.1f}" for seconds in (statistics.median(times), late, max(times)))
            processor = 1e3 * statistics.median(used)
            print(f"{size:6}  {name:6} {figures} {processor:9.1f}   {dearest}", flush=True)


if __name__ == "__main__":
    main()
