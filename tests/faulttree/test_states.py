"""The life of a run."""

from __future__ import annotations

import pytest

from config.kit.errors import WrongState
from faulttree.states import ACTIVE, RUN, RunState

ALLOWED = {
    ("claim", "queued"): "running",
    ("finish", "running"): "done",
    ("fail", "running"): "failed",
    ("fail", "queued"): "failed",
    ("cancel", "queued"): "cancelled",
    ("cancel", "running"): "cancelled",
    ("requeue", "running"): "queued",
    ("repeat", "failed"): "queued",
    ("repeat", "cancelled"): "queued",
}
NAMES = sorted({name for name, _ in ALLOWED})


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("state", RunState.values)
def test_every_pair_of_move_and_state(name, state):
    if (name, state) in ALLOWED:
        assert RUN.move(name, state).target == ALLOWED[name, state]
    else:
        with pytest.raises(WrongState):
            RUN.move(name, state)


def test_the_table_has_no_other_state_or_move():
    assert set(RUN.states) == set(RunState.values)
    assert {(move.name, move.source): move.target for move in RUN.moves} == ALLOWED


def test_a_done_run_is_never_touched_again():
    assert RUN.names_from(RunState.DONE) == ()
    assert set(ACTIVE) == {"queued", "running"}
