"""Migrations go forth and back, on both databases."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.anomalies.databases import make_database
from tests.config.processes import ROOT

pytestmark = pytest.mark.slow


def manage(url, *arguments):
    environment = os.environ | {"DATABASE_URL": url, "DJANGO_SETTINGS_MODULE": "config.settings.test"}
    done = subprocess.run(
        [sys.executable, "manage.py", *arguments], cwd=ROOT, env=environment, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def check_both_ways(url):
    manage(url, "migrate", "--verbosity", "0")
    manage(url, "migrate", "anomalies", "zero", "--verbosity", "0")
    manage(url, "migrate", "--verbosity", "0")
    assert "0 entries" in manage(url, "verify_ledger")


def test_both_ways_on_sqlite(tmp_path):
    check_both_ways(f"sqlite:///{tmp_path / 'records.sqlite3'}")


def test_both_ways_on_postgresql(postgresql_url):
    check_both_ways(make_database(postgresql_url, "both_ways"))
