"""The pressure tank as steps of the bench: the edits that build it from nothing."""

from __future__ import annotations

EDITS = (
    {"do": "add-gate", "name": "E1", "kind": "or", "label": "Pressure tank ruptures"},
    {"do": "add-event", "under": "E1", "name": "T", "expression": 5e-6},
    {"do": "add-gate", "under": "E1", "name": "E2", "kind": "or"},
    {"do": "add-event", "under": "E2", "name": "K2", "expression": 3e-5},
    {"do": "add-gate", "under": "E2", "name": "E3", "kind": "and"},
    {"do": "add-event", "under": "E3", "name": "S", "expression": 1e-4},
    {"do": "add-gate", "under": "E3", "name": "E4", "kind": "or"},
    {"do": "add-event", "under": "E4", "name": "S1", "expression": 3e-5},
    {"do": "add-gate", "under": "E4", "name": "E5", "kind": "or"},
    {"do": "add-event", "under": "E5", "name": "K1", "expression": 3e-5},
    {"do": "add-event", "under": "E5", "name": "R", "expression": 1e-4},
)

# Source: NUREG-0492 (1981), chapters VIII and XI (from memory), recomputed by enumeration.
PROBABILITY = 3.501584875e-5
CUT_SETS = {("T",), ("K2",), ("S", "S1"), ("K1", "S"), ("R", "S")}
