"""An uncertainty run in parts gives the digits of one piece, whatever the parts."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from faulttree.engine.model import Call, Number
from faulttree.engine.quantify import quantify
from faulttree.engine.report import to_json
from faulttree.engine.request import Request
from faulttree.engine.sampling_parts import divide_samples, put_together, read_block, sample_part, write_block
from tests.engine.models import both, either, make_model

SPREAD = Call("lognormal-deviate", (Number(0.1), Number(3.0), Number(0.95)))
MODEL = make_model(
    {"top": either("a", both("b", "c"))},
    {"a": 0.01, "b": SPREAD, "c": Call("beta-deviate", (Number(1.0), Number(4.0)))},
)


@pytest.mark.parametrize("sampling", ["latin-hypercube", "monte-carlo"])
@pytest.mark.parametrize("parts", [1, 2, 5])
def test_the_digits_are_those_of_one_piece(parts, sampling):
    request = Request(samples=21_500, seed=7, sampling=sampling)
    whole = to_json(quantify(MODEL, request))
    blocks = [
        read_block(write_block(sample_part(MODEL, request, start, stop)))
        for start, stop in reversed(divide_samples(request.samples, parts))
    ]
    assert parts // 2 < len(blocks) <= parts
    joined = to_json(put_together(MODEL, request, quantify(MODEL, replace(request, samples=0)), blocks))
    assert joined["uncertainty"] == whole["uncertainty"]
    assert set(joined["notes"]) == set(whole["notes"])


@pytest.mark.parametrize(("samples", "parts"), [(20_000, 3), (2_001, 5), (1_999, 4), (1_000_000, 7)])
def test_parts_follow_each_other_and_leave_nothing_out(samples, parts):
    bounds = divide_samples(samples, parts)
    assert len(bounds) <= parts
    assert bounds[0][0] == 0
    assert bounds[-1][1] == samples
    assert all(before[1] == after[0] for before, after in pairwise(bounds))
