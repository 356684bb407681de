"""State tables: every move a kind of record can make, in one place."""

from __future__ import annotations

from dataclasses import dataclass

from config.kit.errors import WrongState


@dataclass(frozen=True, slots=True)
class Move:
    """One named step from a state to another."""

    name: str
    source: str
    target: str


class Machine:
    """All moves of one kind of record; a move is known by its name and the state it starts from."""

    def __init__(self, *moves: Move) -> None:
        self._by_key = {(move.name, move.source): move for move in moves}
        if len(self._by_key) != len(moves):
            raise ValueError("two moves share a name and a source state")

    @property
    def moves(self) -> tuple[Move, ...]:
        """Every move, in the order of the table."""
        return tuple(self._by_key.values())

    @property
    def states(self) -> tuple[str, ...]:
        """Every state that a move starts from or leads to, in the order of the table."""
        return tuple(dict.fromkeys(state for move in self.moves for state in (move.source, move.target)))

    def move(self, name: str, state: str) -> Move:
        """Return the move of that name out of `state`; raises WrongState if there's none."""
        try:
            return self._by_key[name, state]
        except KeyError:
            raise WrongState(f"Can't {name.replace('_', ' ')} while the state is “{state}”.") from None

    def names_from(self, state: str) -> tuple[str, ...]:
        """Return the names of the moves that `state` allows."""
        return tuple(move.name for move in self.moves if move.source == state)
