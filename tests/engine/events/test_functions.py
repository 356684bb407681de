"""The table of functions: how many arguments each takes."""

from __future__ import annotations

import pytest

from faulttree.engine.events.failure_models import MODELS
from faulttree.engine.events.functions import BUILT_INS, FUNCTIONS, MANY


@pytest.mark.parametrize(
    ("name", "good", "bad", "wanted"),
    [
        ("exp", [1], [0, 2], "1"),
        ("add", [2, 3, MANY], [1, MANY + 1], "2 or more"),
        ("periodic-test", [4, 5], [3, 6, 11], "4 to 5"),
        ("lognormal-deviate", [2, 3], [1, 4], "2 to 3"),
        ("histogram", [3, 5, 11], [1, 2, 4], "an odd number, 3 or more"),
        ("switch", [1, 3, 5], [0, 2, 4], "an odd number, 1 or more"),
        ("pi", [0], [1], "0"),
    ],
)
def test_the_number_of_arguments(name: str, good: list[int], bad: list[int], wanted: str) -> None:
    function = FUNCTIONS[name]
    assert all(function.accepts(count) for count in good)
    assert not any(function.accepts(count) for count in bad)
    assert function.wanted == wanted


def test_every_form_of_a_built_in_has_a_failure_model_with_as_many_arguments() -> None:
    forms = {(name, n) for name, function in BUILT_INS.items() for n in range(function.least, function.most + 1)}
    assert forms == set(MODELS)
    assert all(len(model.arguments) == count for (_, count), model in MODELS.items())
