"""State tables."""

from __future__ import annotations

import pytest

from config.kit.errors import WrongState
from config.kit.transitions import Machine, Move

LAMP = Machine(Move("switch_on", "off", "on"), Move("switch_off", "on", "off"), Move("break", "on", "broken"))


def test_every_pair_of_move_and_state_is_either_made_or_refused():
    table = {(move.name, move.source): move.target for move in LAMP.moves}
    for name in ("switch_on", "switch_off", "break", "polish"):
        for state in LAMP.states:
            if (name, state) in table:
                assert LAMP.move(name, state).target == table[name, state]
            else:
                with pytest.raises(WrongState, match=f"{name.replace('_', ' ')}.*{state}"):
                    LAMP.move(name, state)


def test_a_state_names_the_moves_out_of_it():
    assert LAMP.names_from("on") == ("switch_off", "break")
    assert LAMP.names_from("broken") == ()
    assert LAMP.states == ("off", "on", "broken")


def test_two_moves_of_one_name_out_of_one_state_are_refused():
    with pytest.raises(ValueError, match="share a name"):
        Machine(Move("go", "a", "b"), Move("go", "a", "c"))
