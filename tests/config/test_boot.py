"""The service boots with every settings file."""

from __future__ import annotations

import subprocess
import sys

import pytest

from tests.config.processes import ROOT, clean_environment

PRODUCTION = {
    "DJANGO_SETTINGS_MODULE": "config.settings.prod",
    "SECRET_KEY": "".join(chr(33 + i % 90) for i in range(90)),
    "ALLOWED_HOSTS": "depot.example",
}


def run_manage(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run manage.py as a process of its own, with nothing of our environment but the path."""
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=clean_environment(**environment),
        capture_output=True,
        text=True,
    )


def test_production_settings_pass_the_deployment_checks(tmp_path):
    done = run_manage("check", "--deploy", "--fail-level", "DEBUG", **PRODUCTION, VAR_DIR=str(tmp_path))
    assert done.returncode == 0, done.stderr
    assert "no issues (0 silenced)" in done.stdout


@pytest.mark.parametrize("missing", ["SECRET_KEY", "ALLOWED_HOSTS"])
def test_production_refuses_to_start_without_its_secrets(missing, tmp_path):
    given = {key: value for key, value in PRODUCTION.items() if key != missing}
    done = run_manage("check", **given, VAR_DIR=str(tmp_path))
    assert done.returncode != 0
    assert missing in done.stderr


def test_one_machine_makes_a_private_key_once_and_keeps_it(tmp_path):
    for _ in range(2):
        done = run_manage("check", VAR_DIR=str(tmp_path))
        assert done.returncode == 0, done.stderr
    key_file = tmp_path / "secret_key"
    assert key_file.stat().st_mode & 0o777 == 0o600
    first = key_file.read_text()
    assert len(first) >= 64
    run_manage("check", VAR_DIR=str(tmp_path))
    assert key_file.read_text() == first
