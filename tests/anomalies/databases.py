"""Databases of their own for tests that start processes."""

from __future__ import annotations


def make_database(url: str, name: str) -> str:
    """Return the URL of a new, empty database on the PostgreSQL server at `url`."""
    import psycopg

    with psycopg.connect(url, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    return f"{url.rsplit('/', 1)[0]}/{name}"
