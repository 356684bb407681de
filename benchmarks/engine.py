"""Time and memory of the engine on the open benchmark trees, beside two general-purpose libraries.

    python -m benchmarks.engine [--trees NAME ...] [--skip-peers] [--json FILE]

Part 1 runs the whole job (probability, cut sets, importance) per tree, each in a process of its own,
after one warm-up so that no compilation is counted. Part 2 builds the same function in the same
order with the engine's kernels, CUDD and oxidd, one after the other in this process, best of five.
"""

from __future__ import annotations

import argparse
import json
import math
import multiprocessing
import os
import sys
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks import peers
from faulttree.engine.budget import Budget
from faulttree.engine.exchange.read_xml import read_open_psa
from faulttree.engine.logic.compile import compile_model
from faulttree.engine.logic.orders import order_depth_first
from faulttree.engine.model import Number
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request
from faulttree.engine.validate import choose_top

REPEATS = 5  # the best counts: other work on the machine only ever adds
BIG = 50_000  # nodes from which a case counts in the means
PEER_LIMIT = 8_000_000
CUT_SET_LIMIT = 250_000  # nodes up to which the recursion in Python is run on the library


def trees_folder() -> Path:
    """Folder of the benchmark trees, from BENCHMARK_TREES or beside the checkout."""
    folder = Path(os.environ.get("BENCHMARK_TREES", Path(__file__).resolve().parents[2] / "shared" / "trees"))
    if not (folder / "published.csv").is_file():
        sys.exit("The benchmark trees are not there: set BENCHMARK_TREES to the folder that holds published.csv.")
    return folder


def run_tree(path: str) -> dict[str, Any]:
    """The whole job on one tree; called in a fresh process."""
    model = read_open_psa(Path(path).read_bytes(), file=Path(path).name)
    seconds = 9.0 if "nus9601" in path else None
    result = quantify(model, Request(list_count=100), budget=Budget(memory_mib=2048, seconds=seconds))
    figures = result.seconds
    return {
        "tree": Path(path).stem,
        "method": result.method,
        "probability": result.probability,
        "lower": result.lower,
        "upper": result.upper,
        "cut_sets": result.cut_sets.count if result.cut_sets else None,
        "solve": figures.get("diagrams", 0.0) + figures.get("cut_sets", 0.0) + figures.get("probability", 0.0),
        "total": figures["total"],
        "peak_memory_mib": result.peak_memory_mib,
    }


def run_whole_job(paths: list[Path]) -> list[dict[str, Any]]:
    """Part 1: a table of time and memory per tree."""
    print("Whole job, one fresh process per tree; seconds: diagrams + cut sets + probability, then with importance")
    print(f"{'tree':10} {'method':8} {'probability':>28} {'cut sets':>16} {'solve s':>9} {'total s':>9} {'MiB':>7}")
    rows = []
    context = multiprocessing.get_context("spawn")
    for path in paths:
        with context.Pool(1) as pool:
            row = pool.apply(run_tree, (str(path),))
        rows.append(row)
        exact = row["method"] == "exact"
        figure = f"{row['probability']:.12e}" if exact else f"[{row['lower']:.5e}, {row['upper']:.5e}]"
        count = f"{row['cut_sets']:,}" if exact else "kept " + f"{row['cut_sets']:,}"
        print(
            f"{row['tree']:10} {row['method']:8} {figure:>28} {count:>16} {row['solve']:9.3f} {row['total']:9.3f} "
            f"{row['peak_memory_mib']:7.0f}",
            flush=True,
        )
    exact_rows = [row for row in rows if row["method"] == "exact"]
    print(f"sum over exact trees: solve {sum(r['solve'] for r in exact_rows):.2f} s, "
          f"total {sum(r['total'] for r in exact_rows):.2f} s")  # fmt: skip
    return rows


def run_peers(paths: list[Path]) -> list[dict[str, Any]]:
    """Part 2: the same function in the same depth-first order, as it stands in the file."""
    print("\nSame function, same order; seconds (ratio = engine / peer)")
    print(f"{'tree':10} {'nodes':>9} {'engine':>8} {'CUDD':>8} {'ratio':>6} {'oxidd':>8} {'ratio':>6} "
          f"{'+prob: fastest peer':>20} {'ratio':>6} {'cut sets: oxidd':>16} {'ratio':>7}")  # fmt: skip
    rows = []
    for path in paths:
        row = compare(path)
        if row is not None:
            rows.append(row)
            print(_format(row), flush=True)
    big = [row for row in rows if row["built_nodes"] >= BIG]
    for title, key in (
        ("building, against the faster library", "build_ratio"),
        ("building plus probability, against the faster library", "probability_ratio"),
        ("cut sets, against the recursion on oxidd", "cut_set_ratio"),
    ):
        values = [row[key] for row in big if row[key] is not None]
        if values:
            print(f"geometric mean over {len(values)} cases, {title}: {_mean(values):.3f}")
    return rows


def compare(path: Path) -> dict[str, Any] | None:
    """Timings of one tree on all three, or None when its diagram is too large for this order."""
    model = read_open_psa(path.read_bytes(), file=path.name)
    netlist = compile_model(model, choose_top(model))
    order = order_depth_first(netlist, larger_first=True)
    p = np.array([_number(model, name) for name in netlist.variables])
    try:
        ours = _best(lambda: peers.run_engine(netlist, order, p))
    except Exception as error:  # noqa: BLE001 - a tree too large for one order is left out, and said
        print(f"{path.stem:10} left out: {error}")
        return None
    cudd_build = _best(lambda: peers.run_cudd(netlist, order, p, evaluate=False))
    caches = {
        cache: _best(
            lambda cache=cache: peers.run_oxidd(netlist, order, p, cache=cache, evaluate=False, cut_sets=False)
        )
        for cache in peers.OXIDD_CACHES
    }
    cache = min(caches, key=lambda c: caches[c].build)
    cudd_all = peers.run_cudd(netlist, order, p, evaluate=True)
    oxidd_all = peers.run_oxidd(netlist, order, p, cache=cache, evaluate=True, cut_sets=ours.nodes <= CUT_SET_LIMIT)
    for other in (cudd_all.value, oxidd_all.value):
        assert math.isclose(ours.value or 0.0, other or 0.0, rel_tol=1e-6, abs_tol=1e-15), (ours.value, other)
    assert ours.probability is not None
    fastest = min(cudd_build.build, caches[cache].build)
    fastest_all = min(
        cudd_build.build + (cudd_all.probability or 0.0), caches[cache].build + (oxidd_all.probability or 0.0)
    )
    cut_ratio = ours.cut_sets / oxidd_all.cut_sets if oxidd_all.cut_sets and ours.cut_sets else None
    return {
        "tree": path.stem,
        "built_nodes": ours.nodes,
        "engine": ours.build,
        "cudd": cudd_build.build,
        "oxidd": caches[cache].build,
        "build_ratio": ours.build / fastest,
        "probability_peer": fastest_all,
        "probability_ratio": (ours.build + ours.probability) / fastest_all,
        "cut_sets_peer": oxidd_all.cut_sets,
        "cut_set_ratio": cut_ratio,
    }


def _number(model: Any, name: str) -> float:
    expression = model.basic_events[name].expression
    assert isinstance(expression, Number)
    return expression.value


def _best(run: Any) -> peers.Timing:
    return min((run() for _ in range(REPEATS)), key=lambda timing: timing.build)


def _format(row: dict[str, Any]) -> str:
    cut = "-" if row["cut_sets_peer"] is None else f"{row['cut_sets_peer']:.3f}"
    cut_ratio = "-" if row["cut_set_ratio"] is None else f"{row['cut_set_ratio']:.4f}"
    return (
        f"{row['tree']:10} {row['built_nodes']:9,} {row['engine']:8.3f} {row['cudd']:8.3f} "
        f"{row['engine'] / row['cudd']:6.2f} {row['oxidd']:8.3f} {row['engine'] / row['oxidd']:6.2f} "
        f"{row['probability_peer']:20.3f} {row['probability_ratio']:6.3f} {cut:>16} {cut_ratio:>7}"
    )


def _mean(values: list[float]) -> float:
    return math.exp(sum(math.log(value) for value in values) / len(values))


def main() -> None:
    """Run both parts and, if asked, keep the figures."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--trees", nargs="*", help="names of trees (default: all)")
    parser.add_argument("--skip-peers", action="store_true", help="only the whole job")
    parser.add_argument("--json", type=Path, help="write the figures there as well")
    options = parser.parse_args()
    paths = sorted(trees_folder().glob("*.xml"))
    if options.trees:
        paths = [path for path in paths if path.stem in options.trees]
    whole = run_whole_job(paths)
    beside = []
    if not options.skip_peers:
        beside = run_peers([path for path in paths if path.stem not in ("nus9601", "das9701")])
        print("nus9601 and das9701 are left out of part 2: no library finishes them in this order.")
    if options.json:
        options.json.write_text(json.dumps({"whole": whole, "peers": beside}, indent=1))


if __name__ == "__main__":
    main()
