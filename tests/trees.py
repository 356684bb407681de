"""Where the open benchmark trees are; they are read in place and never committed."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


def trees_folder() -> Path | None:
    """Folder with the benchmark trees and published.csv, or None where it is absent."""
    folder = Path(os.environ.get("BENCHMARK_TREES", ROOT.parent / "shared" / "trees"))
    return folder if (folder / "published.csv").is_file() else None


needs_trees = pytest.mark.skipif(
    trees_folder() is None, reason="the open benchmark trees are not there; set BENCHMARK_TREES to their folder"
)
