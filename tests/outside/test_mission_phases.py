"""Mission phases by what the engine has: rates that differ by phase, and success criteria that do."""

from __future__ import annotations

from math import exp

import pytest

from faulttree.engine.model import Expression, Model, Number, Parameter, Reference
from faulttree.engine.quantify import quantify
from faulttree.engine.request import Request, TimeGrid
from tests.engine.events.builders import TIME, call
from tests.engine.models import both, either, make_model

PHASES = ((0.0, 2.0, 1e-2), (2.0, 100.0, 1e-4), (102.0, 1.0, 5e-2))  # begin and length in hours, rate per hour


def time_in(begin: float, length: float) -> Expression:
    """Hours spent in a phase by the mission time."""
    return call("min", call("max", call("sub", TIME, begin), 0.0), length)


def fails_by_phase(phases: tuple[tuple[float, float, float], ...]) -> Expression:
    """Q(t) = 1 - exp(-sum of rate times hours spent in each phase)."""
    exposure = [call("mul", rate, time_in(begin, length)) for begin, length, rate in phases]
    return call("sub", 1.0, call("exp", call("neg", call("add", *exposure))))


def exposure_by_hand(t: float) -> float:
    """The integral of the rate to time t, by cases."""
    if t <= 2.0:
        return 1e-2 * t
    if t <= 102.0:
        return 2e-2 + 1e-4 * (t - 2.0)
    return 2e-2 + 1e-2 + 5e-2 * (min(t, 103.0) - 102.0)


@pytest.mark.parametrize("t", [0.0, 1.0, 2.0, 50.0, 102.0, 102.5, 103.0, 200.0])
def test_a_rate_that_differs_by_phase(t: float) -> None:
    """Source: closed form, Q(t) = 1 - exp(-integral of the rate); after the last phase nothing fails any more."""
    model = make_model({"TOP": Reference("A")}, {"A": fails_by_phase(PHASES)})
    result = quantify(model, Request(mission_time=t))
    assert result.probability == pytest.approx(1.0 - exp(-exposure_by_hand(t)), rel=1e-12, abs=1e-15)


def test_the_curve_over_the_phases_and_what_is_said_of_it() -> None:
    """Source: closed form at each time; the frequency is left out, since an expression has no failure intensity."""
    model = make_model({"TOP": Reference("A")}, {"A": fails_by_phase(PHASES)})
    result = quantify(model, Request(mission_time=103.0, time_grid=TimeGrid(0.0, 103.0, 0.5)))
    assert result.time is not None
    for point in result.time.points:
        assert point.probability == pytest.approx(1.0 - exp(-exposure_by_hand(point.t)), rel=1e-11, abs=1e-14)
        assert point.frequency is None
    assert any("frequency is not given" in note for note in result.notes)
    assert any("may jump or bend" in note for note in result.notes)


def test_parameters_may_hold_the_phases() -> None:
    """Source: as above; phase lengths and rates as parameters, so that they can be uncertain or overridden."""
    exposure = call("add", call("mul", "ascent-rate", "ascent"), call("mul", "coast-rate", "coast"))
    event = call("sub", 1.0, call("exp", call("neg", exposure)))
    values = {"ascent-rate": 1e-2, "ascent": 2.0, "coast-rate": 1e-4, "coast": 100.0}
    plain = make_model({"TOP": Reference("A")}, {"A": event})
    parameters = {name: Parameter(name, Number(value)) for name, value in values.items()}
    model = Model(gates=plain.gates, basic_events=plain.basic_events, parameters=parameters)
    assert quantify(model).probability == pytest.approx(1.0 - exp(-0.03), rel=1e-12)


def test_success_criteria_that_differ_by_phase() -> None:
    """Phase 1 needs both A and B, phase 2 one of them: a component has one event for each phase.

    Source: by hand, for components that aren't repaired. The mission succeeds when both survive phase 1, and then
    at least one survives phase 2. The method is that of Esary and Ziehms 1975 (from memory).
    """
    exposures = {"A1": 0.02, "B1": 0.03, "A2": 0.4, "B2": 0.5}  # rate times length, of a component in a phase
    gates = {
        "TOP": either("phase-1", "phase-2"),
        "phase-1": either("A1", "B1"),
        "phase-2": both("A-down-in-2", "B-down-in-2"),
        "A-down-in-2": either("A1", "A2"),
        "B-down-in-2": either("B1", "B2"),
    }
    found = quantify(make_model(gates, {name: 1.0 - exp(-exposure) for name, exposure in exposures.items()}))
    success = exp(-0.02 - 0.03) * (1.0 - (1.0 - exp(-0.4)) * (1.0 - exp(-0.5)))
    assert found.probability == pytest.approx(1.0 - success, rel=1e-12)
    assert found.cut_sets is not None
    assert {cut.events for cut in found.cut_sets.listed} == {("A1",), ("B1",), ("A2", "B2")}
