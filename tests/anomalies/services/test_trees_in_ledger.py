"""Writes of trees are in the ledger, and tampering with a tree behind the services is found."""

from __future__ import annotations

import io
import json
from types import SimpleNamespace

import pytest
from django.core.management import call_command
from django.db import transaction

from anomalies.models import LedgerEntry
from config.kit import ledger
from config.kit.errors import BadInput, NotAllowed
from faulttree.models import DataSet, SharedItem, SharedValue, Transfer, TreeRevision, Variant
from faulttree.services.drafts import open_draft, save_draft, take_step
from faulttree.services.trees import import_tree, revise_tree
from faulttree.services.variants import add_variant, change_variant, remove_variant
from tests.anomalies.tampering import execute
from tests.faulttree.people import PUMPS, make_engineer, make_revision, make_viewer

pytestmark = pytest.mark.django_db

SECOND = PUMPS.replace('value="0.01"', 'value="0.005"').encode()
LIKELIER = {"events": {"valve": 0.02}}


def verify():
    """The exit code and what was printed."""
    out = io.StringIO()
    try:
        call_command("verify_ledger", stdout=out)
    except SystemExit as left:
        return left.code, out.getvalue()
    return 0, out.getvalue()


def actions(kind):
    return list(LedgerEntry.objects.filter(kind=kind).order_by("sequence").values_list("action", flat=True))


@pytest.fixture
def engineer():
    return make_engineer()


@pytest.fixture
def revision(engineer):
    return make_revision(engineer)


def revise(engineer, revision):
    return revise_tree(tree_id=revision.tree_id, actor=engineer, source=SECOND, file_name="b.xml")


def test_every_revision_has_its_entry(engineer, revision):
    second = revise(engineer, revision)
    assert actions("tree_revision") == ["tree_revision.import", "tree_revision.revise"]
    entry = LedgerEntry.objects.of("tree_revision", second.pk).get()
    assert (entry.actor, entry.version, entry.content_hash) == (engineer, 1, second.content_hash())
    assert json.loads(entry.after)["sha256"] == second.sha256
    assert verify()[0] == 0


def test_a_draft_that_is_saved_has_its_entry(engineer, revision):
    draft = open_draft(actor=engineer, tree_id=revision.tree_id)
    edit = {"do": "value", "name": "valve", "expression": 0.3}
    draft, _ = take_step(draft_id=draft.pk, actor=engineer, seen=0, edit=edit)
    saved = save_draft(draft_id=draft.pk, actor=engineer, seen=1, note="Likelier.")
    assert saved.difference["count"] == 1
    assert actions("tree_revision")[-1] == "tree_revision.revise"
    assert verify()[0] == 0


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ("source = %s", "source"),
        ("note = 'Approved'", "note"),
        ("sha256 = 'abc'", "sha256"),
        ("number = 7", "number"),
        ("""difference = '{"count": 9}'""", "difference"),
    ],
)
def test_a_revision_changed_behind_the_service_is_found(engineer, revision, change, field):
    values = [SECOND] if "%s" in change else []
    execute(f"UPDATE faulttree_treerevision SET {change} WHERE id = %s", *values, revision.pk)
    code, said = verify()
    assert code == 3
    assert said == f"The tree_revision {revision.pk} isn't what entry 1 recorded; different: {field}.\n"


def test_one_byte_of_a_source_is_enough(revision):
    changed = bytes(revision.source).replace(b"0.01", b"0.02")
    execute("UPDATE faulttree_treerevision SET source = %s WHERE id = %s", changed, revision.pk)
    assert (verify()[0], "different: source" in verify()[1]) == (3, True)


def test_a_transfer_changed_behind_the_service_is_found(revision):
    Transfer.objects.create(revision=revision, gate="both", target=revision, top="no-flow")
    code, said = verify()
    assert (code, "different: transfers" in said) == (3, True)


def test_a_revision_that_is_gone_or_unknown_is_found(engineer, revision):
    second = revise(engineer, revision)
    execute("DELETE FROM faulttree_treerevision WHERE id = %s", second.pk)
    code, said = verify()
    assert (code, f"The tree_revision {second.pk}, last recorded by entry 2, is gone." in said) == (3, True)
    TreeRevision.objects.create(
        tree=revision.tree, number=9, format="open-psa", source=b"x", sha256="", author=engineer, gates=1, events=1,
        tops=["x"], uses_mission_time=False,
    )  # fmt: skip
    code, said = verify()
    assert "the ledger knows nothing of it" in said
    assert "adopt_into_ledger" in said


def test_a_variant_is_followed_until_it_is_removed(engineer, revision):
    given = {"actor": engineer, "overrides": LIKELIER}
    variant = add_variant(tree_id=revision.tree_id, name="Old valve", **given)
    variant = change_variant(variant_id=variant.pk, version=1, name="Worn valve", **given)
    assert verify()[0] == 0
    entry = LedgerEntry.objects.of("variant", variant.pk).last()
    assert entry.changes["name"] == ("Old valve", "Worn valve")
    key = variant.pk
    remove_variant(variant_id=key, actor=engineer)
    assert actions("variant") == ["variant.add", "variant.change", "variant.remove"]
    assert LedgerEntry.objects.of("variant", key).last().changes["name"] == ("Worn valve", None)
    assert verify()[0] == 0


def test_a_variant_changed_or_deleted_behind_the_service_is_found(engineer, revision):
    variant = add_variant(tree_id=revision.tree_id, actor=engineer, name="Old valve", overrides=LIKELIER)
    execute("UPDATE faulttree_variant SET overrides = %s WHERE id = %s", '{"events": {"valve": 0.5}}', variant.pk)
    assert "different: overrides" in verify()[1]
    execute("DELETE FROM faulttree_variant WHERE id = %s", variant.pk)
    assert "is gone" in verify()[1]


def test_a_data_set_stands_for_its_values(engineer):
    data_set = DataSet.objects.create(number=1, author=engineer)
    item = SharedItem.objects.create(kind="event", name="VALVE")
    value = SharedValue.objects.create(item=item, data_set=data_set, expression=1e16, source="Handbook")
    with transaction.atomic():
        ledger.note_write(data_set, actor=engineer, action="data_set.change")
    assert verify()[0] == 0
    execute("UPDATE faulttree_sharedvalue SET expression = '0.5' WHERE id = %s", value.pk)
    code, said = verify()
    assert (code, "different: values" in said) == (3, True)


def test_what_was_refused_leaves_no_entry(engineer, revision):
    before = LedgerEntry.objects.count()
    with pytest.raises(NotAllowed):
        revise_tree(tree_id=revision.tree_id, actor=make_viewer(), source=SECOND, file_name="b.xml")
    with pytest.raises(BadInput):
        import_tree(actor=engineer, source=PUMPS.encode(), file_name="pumps.xml")
    assert LedgerEntry.objects.count() == before


def test_rows_from_before_are_adopted_once_and_the_entry_says_so(engineer):
    TreeRevision.objects.bulk_create(
        [
            TreeRevision(
                tree=make_revision(engineer).tree, number=2, format="open-psa", source=SECOND, sha256="", gates=1,
                author=engineer, events=1, tops=["x"], uses_mission_time=False,
            )
        ]
    )  # fmt: skip
    out = io.StringIO()
    call_command("adopt_into_ledger", "--dry-run", stdout=out)
    assert (verify()[0], "1 rows would be recorded" in out.getvalue()) == (3, True)
    call_command("adopt_into_ledger", stdout=out)
    assert verify()[0] == 0
    entry = LedgerEntry.objects.order_by("sequence").last()
    assert (entry.action, entry.actor, entry.actor_name) == ("tree_revision.adopt", None, "system")
    assert "recorded as it was found" in entry.reason
    again = io.StringIO()
    call_command("adopt_into_ledger", stdout=again)
    assert again.getvalue() == "The ledger knows every row.\n"


def test_outside_a_transaction_nothing_is_recorded(engineer, revision, monkeypatch):
    with monkeypatch.context() as outside:
        outside.setattr(transaction, "get_connection", lambda: SimpleNamespace(in_atomic_block=False))
        with pytest.raises(transaction.TransactionManagementError, match="in the transaction"):
            ledger.note_write(revision, actor=engineer, action="tree_revision.import")
    assert LedgerEntry.objects.count() == 1


def test_without_a_ledger_nothing_is_written(engineer, monkeypatch):
    monkeypatch.setattr(ledger, "_writers", [])
    with pytest.raises(ledger.NoLedger):
        make_revision(engineer)
    assert not TreeRevision.objects.exists()
    assert not Variant.objects.exists()


def test_programs_read_the_history_of_a_revision(client, engineer, revision):
    client.force_login(engineer)
    (event,) = client.get(f"/api/v1/records/tree_revision/{revision.pk}/history/").json()
    assert event["action"] == "tree_revision.import"
    assert {"label": "source", "before": "—"}.items() <= next(
        change for change in event["changes"] if change["label"] == "source"
    ).items()
