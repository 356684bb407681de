"""The full-text index behind the search: FTS5 on SQLite, a stored tsvector with GIN on PostgreSQL.

Both take letters and digits for words and all else for gaps, so that codes like A-2031-014 are words in a row. On
SQLite a later migration that alters the table rebuilds it without its triggers: it must put them back as here.
"""

from __future__ import annotations

from django.db import migrations

TABLE = "anomalies_searchtext"
COLUMNS = ("codes", "title", "body")
NEW, OLD = (", ".join(f"{side}.{name}" for name in COLUMNS) for side in ("new", "old"))

SQLITE = (
    f"CREATE VIRTUAL TABLE {TABLE}_fts USING fts5({', '.join(COLUMNS)}, content='{TABLE}', content_rowid='id', "
    "tokenize='porter unicode61', prefix='2 3 4')",
    f"INSERT INTO {TABLE}_fts(rowid, {', '.join(COLUMNS)}) SELECT id, {', '.join(COLUMNS)} FROM {TABLE}",
    f"CREATE TRIGGER {TABLE}_added AFTER INSERT ON {TABLE} BEGIN "
    f"INSERT INTO {TABLE}_fts(rowid, {', '.join(COLUMNS)}) VALUES (new.id, {NEW}); END",
    f"CREATE TRIGGER {TABLE}_removed AFTER DELETE ON {TABLE} BEGIN "
    f"INSERT INTO {TABLE}_fts({TABLE}_fts, rowid, {', '.join(COLUMNS)}) VALUES ('delete', old.id, {OLD}); END",
    f"CREATE TRIGGER {TABLE}_changed AFTER UPDATE ON {TABLE} BEGIN "
    f"INSERT INTO {TABLE}_fts({TABLE}_fts, rowid, {', '.join(COLUMNS)}) VALUES ('delete', old.id, {OLD}); "
    f"INSERT INTO {TABLE}_fts(rowid, {', '.join(COLUMNS)}) VALUES (new.id, {NEW}); END",
)
SQLITE_BACK = (
    f"DROP TRIGGER {TABLE}_changed",
    f"DROP TRIGGER {TABLE}_removed",
    f"DROP TRIGGER {TABLE}_added",
    f"DROP TABLE {TABLE}_fts",
)

VECTOR = " || ".join(
    f"setweight(to_tsvector('english', regexp_replace({name}, '[^[:alnum:]]+', ' ', 'g')), '{weight}')"
    for name, weight in zip(COLUMNS, "ABD", strict=True)
)
POSTGRESQL = (
    f"ALTER TABLE {TABLE} ADD COLUMN vector tsvector GENERATED ALWAYS AS ({VECTOR}) STORED",
    f"CREATE INDEX {TABLE}_vector ON {TABLE} USING gin (vector)",
)
POSTGRESQL_BACK = (f"DROP INDEX {TABLE}_vector", f"ALTER TABLE {TABLE} DROP COLUMN vector")


def _run(statements, schema_editor):
    for statement in statements:
        schema_editor.execute(statement)


def make(apps, schema_editor):
    """Make the index."""
    _run(POSTGRESQL if schema_editor.connection.vendor == "postgresql" else SQLITE, schema_editor)


def unmake(apps, schema_editor):
    """Drop it."""
    _run(POSTGRESQL_BACK if schema_editor.connection.vendor == "postgresql" else SQLITE_BACK, schema_editor)


class Migration(migrations.Migration):

    dependencies = [("anomalies", "0009_search_and_saved_views")]

    operations = [migrations.RunPython(make, unmake)]
