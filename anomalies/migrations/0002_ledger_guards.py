"""The database itself refuses to change or delete an entry of the ledger.

On SQLite a later migration that alters the table rebuilds it without its triggers: such a migration must call
`remove_guards` and `add_guards` around its change. A test fails when the guards are missing after all migrations.
"""

from __future__ import annotations

from django.db import migrations

TABLE = "anomalies_ledgerentry"
MESSAGE = "the ledger is append-only"

POSTGRESQL = (
    f"""
    CREATE FUNCTION {TABLE}_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        IF TG_OP = 'TRUNCATE' THEN
            -- An empty ledger may be emptied: there is nothing to lose.
            IF NOT EXISTS (SELECT 1 FROM {TABLE}) THEN
                RETURN NULL;
            END IF;
        END IF;
        RAISE EXCEPTION '{MESSAGE}' USING ERRCODE = 'integrity_constraint_violation';
    END $$
    """,
    f"""
    CREATE TRIGGER {TABLE}_no_change BEFORE UPDATE OR DELETE ON {TABLE}
    FOR EACH ROW EXECUTE FUNCTION {TABLE}_refuse()
    """,
    f"""
    CREATE TRIGGER {TABLE}_no_truncate BEFORE TRUNCATE ON {TABLE}
    FOR EACH STATEMENT EXECUTE FUNCTION {TABLE}_refuse()
    """,
)
POSTGRESQL_BACK = (
    f"DROP TRIGGER {TABLE}_no_truncate ON {TABLE}",
    f"DROP TRIGGER {TABLE}_no_change ON {TABLE}",
    f"DROP FUNCTION {TABLE}_refuse()",
)

SQLITE = (
    f"CREATE TRIGGER {TABLE}_no_update BEFORE UPDATE ON {TABLE} BEGIN SELECT RAISE(ABORT, '{MESSAGE}'); END",
    f"CREATE TRIGGER {TABLE}_no_delete BEFORE DELETE ON {TABLE} BEGIN SELECT RAISE(ABORT, '{MESSAGE}'); END",
    # INSERT OR REPLACE deletes the row it replaces without firing the trigger above.
    f"""
    CREATE TRIGGER {TABLE}_no_replace BEFORE INSERT ON {TABLE}
    WHEN EXISTS (
        SELECT 1 FROM {TABLE} WHERE sequence = NEW.sequence OR hash = NEW.hash OR previous_hash = NEW.previous_hash
            OR (kind = NEW.kind AND record_id = NEW.record_id AND version = NEW.version)
    )
    BEGIN SELECT RAISE(ABORT, '{MESSAGE}'); END
    """,
)
SQLITE_BACK = (
    f"DROP TRIGGER {TABLE}_no_replace",
    f"DROP TRIGGER {TABLE}_no_delete",
    f"DROP TRIGGER {TABLE}_no_update",
)


def add_guards(apps, schema_editor):
    """Make the triggers."""
    _run(schema_editor, {"postgresql": POSTGRESQL, "sqlite": SQLITE})


def remove_guards(apps, schema_editor):
    """Drop the triggers."""
    _run(schema_editor, {"postgresql": POSTGRESQL_BACK, "sqlite": SQLITE_BACK})


def _run(schema_editor, statements):
    vendor = schema_editor.connection.vendor
    if vendor not in statements:
        raise RuntimeError(f"The ledger has no guards for {vendor}; use SQLite or PostgreSQL.")
    with schema_editor.connection.cursor() as cursor:
        for statement in statements[vendor]:
            cursor.execute(statement)


class Migration(migrations.Migration):

    dependencies = [("anomalies", "0001_records")]

    operations = [migrations.RunPython(add_guards, remove_guards, elidable=False)]
