"""Whether a solved function is coherent: can only rise as more events occur."""

from __future__ import annotations

import numpy as np

from faulttree.engine.budget import Watch
from faulttree.engine.diagrams.bdd import FALSE_EDGE, TRUE_EDGE, Bdd
from faulttree.engine.diagrams.solution import Diagram, Solution


def is_coherent(solution: Solution, watch: Watch) -> bool:
    """True when the function never falls as a variable becomes true.

    Modules share nothing, so the whole is monotone exactly when each module is monotone in its
    inputs and the top is not negated.
    """
    if solution.sign and solution.diagrams:
        return False
    return all(_is_monotone(diagram, watch) for diagram in solution.diagrams)


def _is_monotone(diagram: Diagram, watch: Watch) -> bool:
    """True when "low implies high" at every row.

    A monotone function that can be false is false when nothing occurred, so a negated edge to
    anything but the constant already settles the question.
    """
    high = diagram.rows[:, 2]
    if np.any((high & 1 == 1) & (high != TRUE_EDGE)):
        return False
    bdd = Bdd(len(diagram.inputs), limit=max(4 * len(diagram.rows), 1 << 20), watch=watch)
    moved = np.zeros(len(diagram.rows), np.int64)
    for row, (variable, low, high_edge) in enumerate(diagram.rows.tolist()):
        if row == 0:
            continue
        new_low = int(moved[low >> 1])
        new_high = TRUE_EDGE if high_edge == TRUE_EDGE else int(moved[high_edge >> 1])
        if bdd.both(new_low, new_high ^ 1) != FALSE_EDGE:
            return False
        moved[row] = 2 * bdd.table.find_or_add(variable, new_low, new_high)
    return True
