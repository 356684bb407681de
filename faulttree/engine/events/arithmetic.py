"""Arithmetic and tests of the exchange format over arrays; a truth value is 1 or 0, and all but 0 is true."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import reduce
from typing import Any

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float64]

ONE_ARGUMENT: dict[str, Callable[[Values], Values]] = {
    "neg": np.negative,
    "abs": np.abs,
    "acos": np.arccos,
    "asin": np.arcsin,
    "atan": np.arctan,
    "cos": np.cos,
    "cosh": np.cosh,
    "exp": np.exp,
    "log": np.log,
    "log10": np.log10,
    "sin": np.sin,
    "sinh": np.sinh,
    "tan": np.tan,
    "tanh": np.tanh,
    "sqrt": np.sqrt,
    "ceil": np.ceil,
    "floor": np.floor,
    "not": lambda x: 1.0 * (x == 0.0),
}

FOLDED: dict[str, Callable[[Values, Values], NDArray[Any]]] = {  # from left to right: sub is a - b - c
    "add": np.add,
    "sub": np.subtract,
    "mul": np.multiply,
    "div": np.divide,
    "min": np.minimum,
    "max": np.maximum,
    "mod": np.mod,  # the sign of the divisor
    "pow": np.power,
    "eq": lambda x, y: 1.0 * (x == y),
    "df": lambda x, y: 1.0 * (x != y),
    "lt": lambda x, y: 1.0 * (x < y),
    "gt": lambda x, y: 1.0 * (x > y),
    "leq": lambda x, y: 1.0 * (x <= y),
    "geq": lambda x, y: 1.0 * (x >= y),
}


def _mean(arguments: Sequence[Values]) -> Values:
    return np.asarray(sum(arguments) / len(arguments))


def _all(arguments: Sequence[Values]) -> Values:
    return np.asarray(reduce(np.logical_and, [argument != 0.0 for argument in arguments]), np.float64)


def _any(arguments: Sequence[Values]) -> Values:
    return np.asarray(reduce(np.logical_or, [argument != 0.0 for argument in arguments]), np.float64)


ANY_NUMBER: dict[str, Callable[[Sequence[Values]], Values]] = {
    "mean": _mean,
    "pi": lambda _: np.asarray(np.pi),
    "and": _all,
    "or": _any,
}
