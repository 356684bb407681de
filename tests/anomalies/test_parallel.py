"""Twenty writers at once lose nothing, on both databases."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import Counter

import pytest

from anomalies.services.access_tokens import MOST_TOKENS
from anomalies.services.sign_off import MOST_TRIES
from tests.anomalies.databases import make_database
from tests.anomalies.parallel import ROUNDS, TOKENS_BEFORE, WRITERS
from tests.config.processes import ROOT

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def outcome(request, tmp_path_factory):
    if request.param == "sqlite":
        url = f"sqlite:///{tmp_path_factory.mktemp('parallel') / 'records.sqlite3'}"
    else:
        url = make_database(request.getfixturevalue("postgresql_url"), "parallel")
    command = [sys.executable, "-m", "tests.anomalies.parallel"]
    store = str(tmp_path_factory.mktemp("store"))
    environment = os.environ | {"DATABASE_URL": url, "VAR_DIR": store}
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_every_number_is_given_once_and_none_is_left_out(outcome):
    count = WRITERS * ROUNDS
    assert outcome["numbers"] == [f"A-2024-{number:03}" for number in range(2, count + 2)]


def test_no_edit_is_lost(outcome):
    assert Counter(outcome["words"]) == Counter(f"word{number}" for number in range(WRITERS))
    assert sum(outcome["merges"]) > 0  # else they didn't meet at all


def test_a_circle_of_hardware_can_not_be_closed(outcome):
    assert Counter(outcome["installed"]) == {"installed": WRITERS - 1, "installed_in_itself": 1}


def test_a_circle_of_duplicates_can_not_be_closed(outcome):
    assert Counter(outcome["linked"]) == {"linked": WRITERS - 1, "duplicate_circle": 1}


def test_a_procedure_is_drafted_approved_released_and_read_once(outcome):
    assert Counter(outcome["drafted"]) == {"drafted": 1, "revision_undecided": WRITERS - 1}
    assert sorted(outcome["steps"]) == sorted(f"step{number}" for number in range(WRITERS))
    assert Counter(outcome["approved"]) == {"approved": 1, "wrong_state": WRITERS - 1}
    assert Counter(outcome["released"]) == {"released": 1, "wrong_state": WRITERS - 1}
    assert len(set(outcome["read"])) == 1


def test_guesses_made_at_once_are_all_counted(outcome):
    assert Counter(outcome["guessed"]) == {"wrong_password": MOST_TRIES, "too_many_tries": WRITERS - MOST_TRIES}


def test_nobody_has_more_tokens_than_are_allowed(outcome):
    left = MOST_TOKENS - TOKENS_BEFORE
    assert Counter(outcome["tokens"]) == {"made": left, "too_many": WRITERS - left}


def test_pieces_of_evidence_are_numbered_in_one_row_and_every_opening_is_recorded(outcome):
    assert sorted(outcome["evidence"]) == list(range(1, WRITERS + 1))
    assert outcome["opened"] == [True] * WRITERS
    assert outcome["openings"] == WRITERS


def test_an_action_is_verified_once(outcome):
    assert Counter(outcome["verified"]) == {"verified": 1, "wrong_state": WRITERS - 1}


def test_an_anomaly_closes_or_its_action_opens_again_but_never_both(outcome):
    ended = Counter(outcome["ended"])
    assert (ended["closed"], ended["reopened"]) in ((1, 0), (0, 1))
    assert outcome["end"] == (["closed", "verified"] if ended["closed"] else ["open", "committed"])


def test_positions_taken_at_once_are_all_kept_one_for_each_member(outcome):
    assert Counter(outcome["stated"]) == {"concurs": WRITERS // 2, "dissents": WRITERS // 2}
    assert outcome["held"] == outcome["members"]


def test_the_ledger_is_whole(outcome):
    assert outcome["whole"] is True
    assert outcome["entries"] > WRITERS * ROUNDS
