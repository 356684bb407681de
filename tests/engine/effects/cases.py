"""Random effects on random trees, and what they mean, straight from their definition."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

from hypothesis import strategies as st

from faulttree.engine.effects.kinds import Effect, EffectKind, find_clashes
from faulttree.engine.model import Gate, Model, references
from tests.engine.models import both, evaluate_formula, random_models, top_of

KEYS = ("A", "B", "C", "D", "E")
AMOUNTS = st.sampled_from([0.0, 0.01, 0.25, 0.5, 1.0])


@st.composite
def random_effects(draw: st.DrawFn, model: Model, keys: Sequence[str] = KEYS) -> list[Effect]:
    """At most two effects for each option, none of which contradicts itself."""
    used = sorted({name for gate in model.gates.values() for name in references(gate.formula)})
    events = [name for name in used if name in model.basic_events] or list(model.basic_events)
    effects: list[Effect] = []
    for key in keys:
        for target in draw(st.lists(st.sampled_from([*events, *model.gates]), max_size=2, unique=True)):
            kinds = [EffectKind.BARRIER] if target in model.gates else [k for k in EffectKind if k != "interval"]
            kind = draw(st.sampled_from(kinds))
            effects.append(Effect(key, kind, target, draw(AMOUNTS)))
    return effects


@st.composite
def cases(draw: st.DrawFn, *, coherent: bool = False) -> tuple[Model, str, list[Effect]]:
    """A tree of at most six events, its top, and effects of up to five options."""
    model = draw(random_models(coherent=coherent, most_events=6))
    return model, top_of(model), draw(random_effects(model))


def holds_together(effects: Sequence[Effect], keys: Sequence[str]) -> bool:
    """Tell whether none of the options clash."""
    return not any(pair <= set(keys) for pair in find_clashes(effects))


def find_by_enumeration(model: Model, top: str, effects: Sequence[Effect]) -> float:
    """The top event's probability: every state of the events and of what stands behind them, by definition."""
    p = {name: event.expression.value for name, event in model.basic_events.items()}  # type: ignore[union-attr]
    for effect in sorted(effects, key=lambda each: each.kind == EffectKind.MULTIPLIED):
        if effect.kind == EffectKind.REPLACED:
            p[effect.target] = effect.amount
        elif effect.kind == EffectKind.MULTIPLIED:
            p[effect.target] *= effect.amount
    p.update({e.target: 0.0 for e in effects if e.kind == EffectKind.RULED_OUT})
    behind: dict[str, list[str]] = {}
    for place, effect in enumerate(effects):
        if effect.kind in (EffectKind.BARRIER, EffectKind.DETECTION):
            p[f"new{place}"] = effect.amount if effect.kind == EffectKind.BARRIER else 1.0 - effect.amount
            behind.setdefault(effect.target, []).append(f"new{place}")
    gates = {
        name: Gate(name, both(gate.formula, *behind.get(name, []))) if name in behind else gate
        for name, gate in model.gates.items()
    }
    guarded = replace(model, gates=gates)
    names, total = list(p), 0.0
    for values in itertools.product((False, True), repeat=len(names)):
        state = dict(zip(names, values, strict=True))
        weight = 1.0
        for name, value in state.items():
            weight *= p[name] if value else 1.0 - p[name]
        passes = {name: value and all(state[new] for new in behind.get(name, [])) for name, value in state.items()}
        passes.update({name: state[name] for name in names if name.startswith("new")})
        if weight and evaluate_formula(guarded, guarded.gates[top].formula, passes):
            total += weight
    return total
