"""The best set of options as a mixed-integer programme over the rows of one decision diagram.

Every row r of the diagram, plain and negated, has a variable y_r in [0, 1] with q_r = U_r y_r, U_r being the most that
its probability can be. For each state k of the row's variable

    q_r >= (1 - p_k) q_low + p_k q_high - M_k (1 - s_k),      M_k = (1 - p_k) U_low + p_k U_high,

where s_k = 1 in that state alone, which the binaries x of the options decide. All coefficients are positive, so the
least q of the root is its probability at every choice of x, for trees with negations too: a negated row has variables
of its own, and nothing is subtracted. Rows below which no option acts are constants. Source: the Shannon expansion of
Bryant 1986, with implications written as big-M rows (common practice in integer programming; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, OptimizeResult, milp

from faulttree.engine.analysis.kernels import node_probabilities
from faulttree.engine.budget import Watch
from faulttree.engine.diagrams.bdd import Bdd
from faulttree.engine.diagrams.build import build_diagram
from faulttree.engine.effects.compiled import Compiled, Lever, Sets
from faulttree.engine.effects.rules import SUMMED, Rules
from faulttree.engine.errors import LimitReached
from faulttree.engine.logic.orders import order_depth_first, order_force
from faulttree.engine.logic.simplify import simplify

MOST_ROWS = 20_000
MOST_RETRIES = 8
SOLVED, TIME_LIMIT = 0, 1
STATUS = {0: "solved", 1: "stopped at its time limit", 2: "found no set", 3: "unbounded", 4: "stopped"}


@dataclass
class _Rows:
    """Constraints low <= A z <= high, gathered row by row."""

    coefficients: list[dict[int, float]] = field(default_factory=list)
    low: list[float] = field(default_factory=list)
    high: list[float] = field(default_factory=list)

    def add(self, coefficients: dict[int, float], low: float, high: float) -> None:
        self.coefficients.append(coefficients)
        self.low.append(low)
        self.high.append(high)

    def write(self, columns: int) -> LinearConstraint:
        row = np.repeat(np.arange(len(self.coefficients)), [len(each) for each in self.coefficients])
        column = np.array([c for each in self.coefficients for c in each], np.int64)
        value = np.array([v for each in self.coefficients for v in each.values()], np.float64)
        matrix = sparse.csr_array((value, (row, column)), shape=(len(self.coefficients), columns))
        return LinearConstraint(matrix, np.array(self.low), np.array(self.high))


@dataclass(frozen=True)
class Solved:
    """What the solver found; `lower` is the bound it proves, to its tolerance, and `scale` what that is relative to."""

    chosen: Sets | None
    lower: float
    scale: float
    status: str
    rows: int


class Programme:
    """The programme of one compiled tree and its rules."""

    def __init__(self, compiled: Compiled, rules: Rules, watch: Watch) -> None:
        self.compiled, self.rules = compiled, rules
        self.rows = _Rows()
        self.columns = len(rules.options)
        self.levers: dict[int, tuple[Lever, dict[int, int]]] = {}
        self._values: dict[int, tuple[int | None, float]] = {}  # signed row -> column and U, or None and its constant
        self._add_rules()
        self.root = self._add_diagram(watch)

    def solve(self, seconds: float) -> Solved:
        """Return the best set that the solver finds; a set that breaks a limit by its tolerance is cut off."""
        column, scale = self.root
        if column is None:
            return Solved(self.rules.first, scale, scale, STATUS[0], len(self.rows.low))
        for _ in range(MOST_RETRIES):
            result = self._run(column, seconds)
            lower = max(float(result.mip_dual_bound or 0.0), 0.0) * scale
            status = STATUS.get(int(result.status), "stopped")
            if result.x is None:
                return Solved(None, lower, scale, status, len(self.rows.low))
            chosen = np.asarray(result.x[: len(self.rules.options)] > 0.5)
            if self.rules.allow(chosen[None, :])[0]:
                return Solved(chosen, lower, scale, status, len(self.rows.low))
            inside = {place: 1.0 if held else -1.0 for place, held in enumerate(chosen)}
            self.rows.add(inside, -np.inf, float(chosen.sum()) - 1.0)
        return Solved(None, 0.0, scale, "found only sets that break a limit by its tolerance", len(self.rows.low))

    def _run(self, column: int, seconds: float) -> OptimizeResult:
        objective = np.zeros(self.columns)
        objective[column] = 1.0
        whole = np.zeros(self.columns, np.int64)
        whole[: len(self.rules.options)] = 1
        return milp(
            objective,
            integrality=whole,
            bounds=Bounds(0.0, 1.0),
            constraints=self.rows.write(self.columns),
            options={"time_limit": seconds, "mip_rel_gap": 0.0, "presolve": True},
        )

    def _add_rules(self) -> None:
        rules = self.rules
        for place in rules.must:
            self.rows.add({place: 1.0}, 1.0, 1.0)
        for one, other in rules.excludes:
            self.rows.add({one: 1.0, other: 1.0}, -np.inf, 1.0)
        for one, other in rules.needs:
            if one != other:
                self.rows.add({one: 1.0, other: -1.0}, -np.inf, 0.0)
        for resource in SUMMED:
            limit = getattr(rules.limits, resource)
            taken = {i: getattr(option, resource) for i, option in enumerate(rules.options)}
            taken = {i: value for i, value in taken.items() if value > 0.0}
            if limit is not None and taken:
                unit = max(limit, max(taken.values()))
                self.rows.add({i: value / unit for i, value in taken.items()}, -np.inf, limit / unit)
        if rules.limits.lead_days is not None:
            for place, option in enumerate(rules.options):
                if option.lead_days > rules.limits.lead_days:
                    self.rows.add({place: 1.0}, 0.0, 0.0)

    def _add_diagram(self, watch: Watch) -> tuple[int | None, float]:
        rows, edge, order = build_one(self.compiled, watch)
        p = self.compiled.base[order]
        levers = {lever.place: lever for lever in self.compiled.levers}
        holds, fails = np.empty(len(rows)), np.empty(len(rows))
        node_probabilities(rows, p, 1.0 - p, holds, fails)
        moved = np.zeros(len(rows), bool)  # an option acts at the row or below
        for n in range(1, len(rows)):
            moved[n] = order[rows[n, 0]] in levers or moved[rows[n, 1] >> 1] or moved[rows[n, 2] >> 1]
        for signed in _list_reached(rows, edge):
            n, sign = signed >> 1, signed & 1
            if not moved[n]:
                self._values[signed] = (None, float(fails[n] if sign else holds[n]))
                continue
            variable = order[rows[n, 0]]
            low, high = int(rows[n, 1]) ^ sign, int(rows[n, 2]) ^ sign
            if variable in levers:
                self._add_lever_row(signed, levers[variable], low, high)
            else:
                self._add_row(signed, {-1: float(self.compiled.base[variable])}, low, high)
        return self._values[edge]

    def _add_lever_row(self, signed: int, lever: Lever, low: int, high: int) -> None:
        columns = self._find_states(lever)
        self._add_row(signed, {columns[k]: float(lever.values[k]) for k in columns}, low, high)

    def _add_row(self, signed: int, states: dict[int, float], low: int, high: int) -> None:
        """Add the row of a signed node; `states`: column of each state (-1: the only one) and the probability in it."""
        (low_column, low_most), (high_column, high_most) = self._values[low], self._values[high]
        most = {column: (1.0 - p) * low_most + p * high_most for column, p in states.items()}
        scale = max(most.values())
        if scale <= 0.0:
            self._values[signed] = (None, 0.0)
            return
        own = self._add_column()
        self._values[signed] = (own, scale)
        for column, p in states.items():
            coefficients, least = {own: 1.0}, 0.0
            for child, share in ((low_column, (1.0 - p) * low_most), (high_column, p * high_most)):
                if child is None:
                    least += share / scale
                elif share > 0.0:
                    coefficients[child] = coefficients.get(child, 0.0) - share / scale
            if column >= 0:
                coefficients[column] = -most[column] / scale
                least -= most[column] / scale
            self.rows.add(coefficients, least, np.inf)

    def _find_states(self, lever: Lever) -> dict[int, int]:
        """Return the column of each state of a lever that can be; 1 in the state that the options are in."""
        if lever.place not in self.levers:
            states = [k for k, value in enumerate(lever.values) if not np.isnan(value)]
            columns = {k: self._add_column() for k in states}
            self.rows.add(dict.fromkeys(columns.values(), 1.0), 1.0, 1.0)
            for k, column in columns.items():
                for bit, option in enumerate(lever.options):
                    if k >> bit & 1:
                        self.rows.add({column: 1.0, option: -1.0}, -np.inf, 0.0)
                    else:
                        self.rows.add({column: 1.0, option: 1.0}, -np.inf, 1.0)
            self.levers[lever.place] = (lever, columns)
        return self.levers[lever.place][1]

    def _add_column(self) -> int:
        self.columns += 1
        return self.columns - 1


def build_one(compiled: Compiled, watch: Watch) -> tuple[NDArray[np.int32], int, list[int]]:
    """Return rows, root edge and order of one diagram of the whole tree; raises LimitReached past MOST_ROWS."""
    netlist = simplify(compiled.netlist)
    if netlist.root < 0:
        return np.zeros((1, 3), np.int32), netlist.root & 1 ^ 1, []
    start = order_depth_first(netlist, larger_first=True)
    best: tuple[NDArray[np.int32], int, list[int]] | None = None
    for order in (order_force(netlist, start) if len(start) > 2 else start, start):
        bdd = Bdd(len(order), limit=50 * MOST_ROWS, watch=watch, work_limit=100 * MOST_ROWS)
        try:
            rows, edge = bdd.table.extract(build_diagram(bdd, netlist, order))
        except LimitReached as reached:
            if reached.limit == "seconds":
                raise
            continue
        if best is None or len(rows) < len(best[0]):
            best = rows, int(edge), list(order)
    if best is None or len(best[0]) > MOST_ROWS:
        message = f"The diagram of this tree has more than {MOST_ROWS:,} rows, too many for an integer programme."
        raise LimitReached("nodes", message)
    return best


def _list_reached(rows: NDArray[np.int32], edge: int) -> Sequence[int]:
    """Signed rows that the root reaches, children first."""
    reached = {edge}
    for n in range(edge >> 1, 0, -1):
        for sign in (0, 1):
            if 2 * n + sign in reached:
                reached.update((int(rows[n, 1]) ^ sign, int(rows[n, 2]) ^ sign))
    return sorted(reached)
