"""The figures of learning: a rate with its interval, a posterior."""

from __future__ import annotations

from anomalies.reads.learning import CONFIDENCE, ModeView
from anomalies.web.explained import Explained, Input, explained
from config.kit.figures import write_plain, write_share

INDEPENDENT = "Occurrences are independent, and the rate or probability is constant."
ONCE = "The prior knows nothing of what is counted here: nothing counts twice."
COUNTED = "Every occurrence was recorded and named on its anomaly."


@explained("failure_mode", "interval")
def explain_interval(view: ModeView, of: str) -> Explained | None:
    """The rate with its interval."""
    if view.estimate is None or view.low is None or view.high is None:
        return None
    k, total = view.count, view.exposure.total
    formula: tuple[str, ...]
    if view.mode.measure == "hours":
        formula = (
            f"from chi-square(0.05; 2·{k}) / (2·{total:g})" if k else "from 0, as nothing was seen",
            f"to chi-square(0.95; 2·{k} + 2) / (2·{total:g}) = {write_plain(view.high, 4)}",
        )
    else:
        formula = (f"Clopper-Pearson limits of {k} in {total:g}, each leaving 5 % on its side",)
    return Explained(
        f"Rate of {view.mode.code}",
        f"{write_plain(view.estimate, 4)} ({write_plain(view.low, 3)} to {write_plain(view.high, 3)})",
        f"Occurrences over exposure, with the equal-tailed {write_share(2 * CONFIDENCE - 1)} interval.",
        (f"{k} / {total:g} = {write_plain(view.estimate, 5)}", *formula),
        (Input("occurrences", str(k)), Input("exposure", f"{total:g} {view.mode.get_measure_display().lower()}")),
        (INDEPENDENT, COUNTED),
        "Exact limits: Garwood 1936 for a Poisson rate, Clopper and Pearson 1934 for a probability (from memory).",
    )


@explained("failure_mode", "posterior")
def explain_update(view: ModeView, of: str) -> Explained | None:
    """What experience makes of the shared value."""
    updated, new, shared = view.suggestion, view.new, view.shared
    if updated is None or new is None or shared is None:
        return None
    prior = updated.prior
    if updated.law == "gamma":
        formula = (
            "gamma prior (shape a, rate b) and k occurrences in T: gamma(a + k, b + T)",
            f"gamma({prior.a:g} + {new.count}, {prior.b:g} + {new.amount:g}), mean {write_plain(updated.mean, 5)}",
        )
    elif updated.law == "beta":
        formula = (
            "beta prior (a, b) and k in n: beta(a + k, b + n − k)",
            f"beta({prior.a:g} + {new.count}, {prior.b:g} + {new.amount:g} − {new.count})",
        )
    else:
        formula = (
            "posterior ∝ prior density · likelihood, integrated on a grid of ln x",
            f"mean {write_plain(updated.mean, 5)}, 90 % from {write_plain(updated.p05, 3)} "
            f"to {write_plain(updated.p95, 3)}",
        )
    return Explained(
        f"What experience makes of {shared.name}",
        write_plain(updated.mean, 5),
        "The mean of the posterior: the prior, weighted by the likelihood of what was seen.",
        formula,
        (
            Input("prior", prior.words, shared.source),
            Input("occurrences k", str(new.count), "since the last accepted update"),
            Input(
                "exposure",
                f"{new.amount:g} {view.mode.get_measure_display().lower()}",
                "since the last accepted update",
            ),
        ),
        (INDEPENDENT, ONCE, COUNTED),
        "NASA/SP-2009-569, Bayesian Inference for NASA Probabilistic Risk and Reliability Analysis, chapter 3.",
    )
