"""A netlist without negations: AND and OR of two arguments over events and "event did not occur"."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from faulttree.engine.logic.netlist import Kind, Literal, NetGate, Netlist

Part = int
"""A part of a positive net: rail r >= 0, or gate g written as ~g."""


@dataclass
class PositiveNet:
    """Gates of two arguments, arguments before users; the last one is the root unless `root` is a rail.

    rails : for each rail, the literal (of the netlist) that it stands for
    p : float64[rails], probability of each rail
    conjunctions : whether gate g is an AND (else an OR)
    arguments : the two parts of each gate
    support : variables below each gate, as bits of an integer
    """

    rails: list[Literal] = field(default_factory=list)
    p: NDArray[np.float64] = field(default_factory=lambda: np.zeros(0))
    conjunctions: list[bool] = field(default_factory=list)
    arguments: list[tuple[Part, Part]] = field(default_factory=list)
    support: list[int] = field(default_factory=list)
    root: Part = 0

    def support_of(self, part: Part) -> int:
        """Variables below a part."""
        return 1 << (self.rails[part] >> 1) if part >= 0 else self.support[~part]


def make_positive(netlist: Netlist, p: NDArray[np.float64]) -> PositiveNet:
    """Return the positive net of a netlist whose root is not a constant.

    Negations are pushed to the variables; "x did not occur" becomes a rail of its own. The net's
    function equals the netlist's when each pair of rails is read as x and not x. A k-of-n gate
    becomes a grid of at most n k gates.
    """
    return _Maker(netlist, p).make()


class _Maker:
    def __init__(self, netlist: Netlist, p: NDArray[np.float64]) -> None:
        self._netlist = netlist
        self._p = p
        self._net = PositiveNet()
        self._parts: dict[Literal, Part] = {}
        self._gates: dict[tuple[bool, Part, Part], Part] = {}

    def make(self) -> PositiveNet:
        stack = [self._netlist.root]
        while stack:
            literal = stack[-1]
            if literal in self._parts:
                stack.pop()
                continue
            if not self._netlist.is_gate(literal >> 1):
                self._parts[literal] = self._rail(literal)
                continue
            gate = self._netlist.gate(literal >> 1)
            needed = _needed(gate, literal & 1)
            missing = [a for a in needed if a not in self._parts]
            if missing:
                stack.extend(missing)
            else:
                self._parts[literal] = self._unfold(gate, literal & 1)
        net = self._net
        net.root = self._parts[self._netlist.root]
        net.p = np.array([1.0 - self._p[r >> 1] if r & 1 else self._p[r >> 1] for r in net.rails])
        return net

    def _rail(self, literal: Literal) -> Part:
        self._net.rails.append(literal)
        return len(self._net.rails) - 1

    def _unfold(self, gate: NetGate, sign: int) -> Part:
        if gate.kind == Kind.XOR:
            return self._parity([(self._parts[a], self._parts[a ^ 1]) for a in gate.arguments], sign)
        parts = [self._parts[a ^ sign] for a in gate.arguments]
        if gate.kind == Kind.ATLEAST:
            return self._at_least(len(parts) - gate.k + 1 if sign else gate.k, parts)
        return self._chain((gate.kind == Kind.AND) != bool(sign), parts)

    def _chain(self, conjunction: bool, parts: list[Part]) -> Part:
        """Balanced tree of one connective, so that parts meet others of like size."""
        level = sorted(set(parts), key=lambda part: self._net.support_of(part).bit_count())
        while len(level) > 1:
            paired = [self._gate(conjunction, a, b) for a, b in zip(level[::2], level[1::2], strict=False)]
            level = paired + (level[-1:] if len(level) % 2 else [])
        return level[0]

    def _at_least(self, k: int, parts: list[Part]) -> Part:
        row: list[Part | None] = [None] * (k + 1)  # row[j]: at least j of the parts seen; None is false
        for seen, part in enumerate(parts):
            for j in range(min(k, seen + 1), 0, -1):
                below = row[j - 1]
                one_more = part if j == 1 else None if below is None else self._gate(True, part, below)
                known = row[j]
                row[j] = one_more if known is None else known if one_more is None else self._gate(False, known, one_more)
        result = row[k]
        assert result is not None
        return result

    def _parity(self, pairs: list[tuple[Part, Part]], sign: int) -> Part:
        odd, even = pairs[0]
        for true, false in pairs[1:]:
            odd, even = (
                self._gate(False, self._gate(True, odd, false), self._gate(True, even, true)),
                self._gate(False, self._gate(True, odd, true), self._gate(True, even, false)),
            )
        return even if sign else odd

    def _gate(self, conjunction: bool, a: Part, b: Part) -> Part:
        if a == b:
            return a
        key = (conjunction, min(a, b), max(a, b))
        if key not in self._gates:
            net = self._net
            net.conjunctions.append(conjunction)
            net.arguments.append((a, b))
            net.support.append(net.support_of(a) | net.support_of(b))
            self._gates[key] = ~(len(net.arguments) - 1)
        return self._gates[key]


def _needed(gate: NetGate, sign: int) -> list[Literal]:
    if gate.kind == Kind.XOR:
        return [literal for a in gate.arguments for literal in (a, a ^ 1)]
    return [a ^ sign for a in gate.arguments]
