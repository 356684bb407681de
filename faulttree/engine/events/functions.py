"""The functions of the exchange format: their names, how many arguments, and what the arguments are.

Source: Open-PSA Model Exchange Format, stochastic layer (expressions, built-ins, random deviates).
"""

from __future__ import annotations

from dataclasses import dataclass

MANY = 10_000


@dataclass(frozen=True, slots=True)
class Function:
    """One function: how many arguments it may have and their names and units where they have meaning."""

    name: str
    least: int
    most: int
    arguments: str = ""
    odd: bool = False  # pairs and one more: bins after the start, cases before the default

    def accepts(self, count: int) -> bool:
        """Tell whether the function takes that many arguments."""
        return self.least <= count <= self.most and (count % 2 == 1 or not self.odd)

    @property
    def wanted(self) -> str:
        """The number of arguments in words."""
        if self.odd and self.most == MANY:
            return f"an odd number, {self.least} or more"
        if self.least == self.most:
            return f"{self.least}"
        return f"{self.least} or more" if self.most == MANY else f"{self.least} to {self.most}"


_ARITHMETIC = [
    *(Function(name, 1, 1) for name in ("neg", "abs", "acos", "asin", "atan", "cos", "cosh", "exp", "log", "log10")),
    *(Function(name, 1, 1) for name in ("sin", "sinh", "tan", "tanh", "sqrt", "ceil", "floor")),
    *(Function(name, 2, MANY) for name in ("add", "sub", "mul", "div", "min", "max")),
    Function("mean", 1, MANY),
    Function("mod", 2, 2),
    Function("pow", 2, 2),
    Function("pi", 0, 0),
]

_TESTS = [
    Function("not", 1, 1),
    Function("and", 1, MANY),
    Function("or", 1, MANY),
    *(Function(name, 2, 2) for name in ("eq", "df", "lt", "gt", "leq", "geq")),
    Function("ite", 3, 3, "condition, value if true, value if false"),
    Function("switch", 1, MANY, "condition 1, value 1, ..., value otherwise", odd=True),
]

_BUILT_INS = [
    Function("exponential", 2, 2, "failure rate per hour, time in hours"),
    Function("GLM", 4, 4, "probability on demand, failure rate per hour, repair rate per hour, time in hours"),
    Function("Weibull", 4, 4, "scale in hours, shape, shift in hours, time in hours"),
    Function("periodic-test", 4, 5, "failure rate, [repair rate,] test interval, first test, time; hours"),
]

_DEVIATES = [
    Function("uniform-deviate", 2, 2, "lower bound, upper bound"),
    Function("normal-deviate", 2, 2, "mean, standard deviation"),
    Function("lognormal-deviate", 2, 3, "mean, error factor, level; or mu, sigma of the logarithm"),
    Function("gamma-deviate", 2, 2, "shape, scale"),
    Function("beta-deviate", 2, 2, "alpha, beta"),
    Function("histogram", 3, MANY, "start, upper bound 1, value 1, ...", odd=True),
]

BUILT_INS = {function.name: function for function in _BUILT_INS}
DEVIATES = {function.name: function for function in _DEVIATES}
FUNCTIONS = {function.name: function for function in (*_ARITHMETIC, *_TESTS, *_BUILT_INS, *_DEVIATES)}
