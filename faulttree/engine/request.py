"""What can be asked of a run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from faulttree.engine.overrides import Overrides


@dataclass(frozen=True, slots=True)
class TimeGrid:
    """Times from start to stop in equal steps, hours; stop is included when it falls on a step."""

    start: float
    stop: float
    step: float


@dataclass(frozen=True, slots=True)
class Request:
    """One quantification; the defaults give probability, cut sets and importance.

    top : name of the top event; None takes the only one there is
    mission_time : hours; needed only when the model uses it
    list_count : how many of the likeliest minimal cut sets are listed
    max_order, min_probability : cut-offs of the list (the exact count is never cut)
    samples, seed, sampling : uncertainty run; 0 samples means none; "monte-carlo" or "latin-hypercube"
    evidence : event or gate name -> True (occurred) or False (did not occur)
    prime_implicants : list prime implicants of a non-coherent tree, at most this many; 0 = none
    unions : the union form of Fussell-Vesely; costly on some trees, False leaves it out with a note
    overrides : what is different from the model; its mission time goes before that of the request
    """

    top: str | None = None
    mission_time: float | None = None
    list_count: int = 100
    max_order: int | None = None
    min_probability: float = 0.0
    time_grid: TimeGrid | None = None
    samples: int = 0
    seed: int = 1
    sampling: str = "latin-hypercube"
    evidence: Mapping[str, bool] = field(default_factory=dict)
    prime_implicants: int = 0
    unions: bool = True
    overrides: Overrides = field(default_factory=Overrides)
