"""The README tells of every variable that is read, and of none that isn't."""

from __future__ import annotations

import re

from tests.config.processes import ROOT

READ = re.compile(r"\benv\.\w+\(\s*\"([A-Z_]+)\"")
TABLE_ROW = re.compile(r"^\| ((?:`[A-Z_]+`(?:, )?)+) \|", re.MULTILINE)


def test_every_variable_is_documented():
    sources = [*ROOT.glob("config/**/*.py"), *ROOT.glob("faulttree/**/*.py"), *ROOT.glob("anomalies/**/*.py")]
    read = {name for path in sources for name in READ.findall(path.read_text())}
    rows = TABLE_ROW.findall((ROOT / "README.md").read_text())
    documented = {name for row in rows for name in re.findall(r"[A-Z_]+", row)}
    assert len(read) >= 15
    assert documented == read | {"DJANGO_SETTINGS_MODULE"}
