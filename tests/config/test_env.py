"""The secret key of one machine."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

from config.env import read_or_make_secret_key


def test_whoever_comes_first_makes_the_key_and_all_get_the_same(tmp_path):
    path = tmp_path / "new" / "secret_key"
    with ThreadPoolExecutor(8) as pool:
        keys = set(pool.map(read_or_make_secret_key, [path] * 8))
    assert keys == {path.read_text()}
    assert len(path.read_text()) >= 64
    assert path.stat().st_mode & 0o777 == 0o600
    assert [each.name for each in path.parent.iterdir()] == ["secret_key"]
