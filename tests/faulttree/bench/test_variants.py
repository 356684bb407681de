"""The pages of variants."""

from __future__ import annotations

import csv

import pytest
from django.core.cache import cache
from lxml import html

from faulttree.models import Run, Variant
from faulttree.reads import comparison
from faulttree.services.variants import add_variant, change_variant
from tests.builders import wide_tree
from tests.faulttree.people import PUMPS, TIMED, make_engineer, make_revision

HOUSE = PUMPS.replace('<basic-event name="valve"/></or>', '<basic-event name="valve"/><house-event name="open"/></or>')
HOUSE = HOUSE.replace(
    "</define-fault-tree>",
    '<define-house-event name="open"><constant value="false"/></define-house-event></define-fault-tree>',
)


@pytest.fixture(autouse=True)
def nothing_kept():
    cache.clear()


@pytest.fixture
def tree(engineer):
    return make_revision(engineer).tree


@pytest.fixture
def variant(engineer, tree):
    return add_variant(
        tree_id=tree.pk, actor=engineer, name="No valve", note="It was locked.", overrides={"events": {"valve": False}}
    )


def words(client, url, **kwargs):
    """The text of a page, in one line."""
    response = client.get(url, **kwargs)
    assert response.status_code == 200
    return " ".join(" ".join(html.fromstring(response.content.decode()).itertext()).split())


def test_a_tree_without_variants_says_what_they_are(as_engineer, as_viewer, tree):
    address = f"/trees/{tree.pk}/variants/"
    assert "No variants yet" in words(as_engineer, address)
    assert "A safety engineer adds variants" in words(as_viewer, address)


def test_a_variant_stands_beside_the_tree_in_figures(as_viewer, tree, variant):
    """P = 0.0298 with the valve; without it the two pumps are left, 0.1 × 0.2 = 0.02."""
    page = words(as_viewer, f"/trees/{tree.pk}/variants/")
    assert "No valve It was locked." in page
    assert "valve ruled out 0.020000 exact × 0.6711 −9.800 × 10 −3 1 pump-1 pump-2 100.0 % of the top event" in page
    assert "The tree as it stands Nothing 0.029800 exact" in page
    assert "Decision support only" in page
    assert not Run.objects.exists()


def test_the_piece_is_what_htmx_gets(as_viewer, tree, variant):
    response = as_viewer.get(f"/trees/{tree.pk}/variants/", headers={"HX-Request": "true"})
    assert response.content.decode().strip().startswith("<div")
    assert "<title>Variants" not in response.content.decode()


def test_strangers_find_nothing_and_readers_may_not_write(as_stranger, as_viewer, tree, variant):
    assert as_stranger.get(f"/trees/{tree.pk}/variants/").status_code == 404
    assert as_stranger.get(f"/variants/{variant.pk}/change/").status_code == 404
    assert as_viewer.get(f"/trees/{tree.pk}/variants/add/").status_code == 403
    assert as_viewer.post(f"/variants/{variant.pk}/remove/").status_code == 403
    assert as_viewer.get(f"/trees/{tree.pk}/variants/?revision=9").status_code == 404
    assert as_viewer.get(f"/trees/{tree.pk}/variants/?revision=x").status_code == 404


def test_what_is_no_longer_in_the_tree_is_named(as_viewer, engineer, tree, variant):
    Variant.objects.filter(pk=variant.pk).update(overrides={"events": {"seal": False}})
    assert "There is no basic event seal." in words(as_viewer, f"/trees/{tree.pk}/variants/")


def test_a_mission_time_is_asked_for_where_it_is_needed(as_viewer, engineer):
    tree = make_revision(engineer, TIMED).tree
    add_variant(tree_id=tree.pk, actor=engineer, name="Long", overrides={"mission_time": 100})
    address = f"/trees/{tree.pk}/variants/"
    assert "give it in hours above" in words(as_viewer, address)
    page = words(as_viewer, f"{address}?hours=10")
    assert "can't be computed" not in page
    assert "Mission time 10 h" in page
    assert "Give hours, 0 or more" in words(as_viewer, f"{address}?hours=ten")


def test_what_there_was_no_time_for_is_told_and_can_be_asked_for(as_engineer, tree, variant, monkeypatch):
    monkeypatch.setattr(comparison, "SECONDS_EACH", 0.0)
    address = f"/trees/{tree.pk}/variants/"
    page = html.fromstring(as_engineer.get(address).content.decode())
    assert "2 not computed yet" in page.text_content()
    assert page.xpath('//input[@name="row"]/@value') == ["base", str(variant.pk)]
    response = as_engineer.post(f"{address}compute/", {"row": ["base", variant.pk]})
    assert response.headers["Location"] == f"{address}?#comparison"
    assert sorted(run.has_overrides for run in Run.objects.all()) == [False, True]
    assert "Waiting for a worker" in words(as_engineer, address)
    assert 'hx-trigger="every 2s"' in as_engineer.get(address).content.decode()


def test_a_run_that_is_done_is_taken(as_engineer, tree, variant, monkeypatch):
    from faulttree.services.execution import execute_run

    monkeypatch.setattr(comparison, "SECONDS_EACH", 0.0)
    address = f"/trees/{tree.pk}/variants/"
    as_engineer.post(f"{address}compute/", {"row": ["base", variant.pk]})
    for run in Run.objects.all():
        execute_run(run_id=run.pk)
    assert "valve ruled out 0.020000 exact" in words(as_engineer, address)


def test_a_bracket_says_so(as_viewer, engineer, monkeypatch):
    monkeypatch.setattr(comparison, "NODES_EACH", 100)
    tree = make_revision(engineer, wide_tree(24)).tree
    add_variant(tree_id=tree.pk, actor=engineer, name="No e1", overrides={"events": {"e1": False}})
    page = html.fromstring(as_viewer.get(f"/trees/{tree.pk}/variants/").content.decode())
    (row,) = page.xpath('//tr[contains(@class, "variant-table__base")]')
    assert row.xpath('.//*[@class="tag is-warn"]/text()') == ["bracket"]
    assert "exact" not in row.text_content()
    assert "the likeliest of those found" in row.text_content()
    (variant,) = page.xpath('//tr[contains(., "No e1")]')
    assert " to " in variant.xpath('.//td[@data-head="ratio"]')[0].text_content()


def test_the_file_holds_the_same_figures(as_viewer, tree, variant):
    response = as_viewer.get(f"/trees/{tree.pk}/variants/comparison.csv")
    rows = list(csv.reader(b"".join(response.streaming_content).decode().splitlines()))
    head = next(row for row in rows if row[0] == "variant")
    found = dict(zip(head, rows[-1], strict=True))
    assert (found["variant"], found["state"], found["likeliest cut set"]) == ("No valve", "exact", "pump-1 pump-2")
    assert float(found["top-event probability"]) == pytest.approx(0.02)
    assert float(found["ratio, least"]) == pytest.approx(0.02 / 0.0298)
    assert any(row[0] == "# caution" for row in rows)


def test_a_variant_is_added_by_the_form(as_engineer, engineer):
    tree = make_revision(engineer, HOUSE).tree
    address = f"/trees/{tree.pk}/variants/add/"
    page = html.fromstring(as_engineer.get(address).content.decode())
    assert page.xpath('//select[@name="e:valve"]')
    typed = {"name": "New", "e:valve": "ruled-out", "p:pump-1": "1e-3", "e:pump-2": "certain", "h:open": "on"}
    response = as_engineer.post(address, typed | {"mission_time": "12"})
    assert response.headers["Location"] == f"/trees/{tree.pk}/variants/"
    assert Variant.objects.get().overrides == {
        "events": {"pump-1": 0.001, "pump-2": True, "valve": False},
        "houses": {"open": True},
        "mission_time": 12.0,
    }


def test_a_mistake_loses_nothing_and_is_named(as_engineer, tree):
    typed = {"name": "New", "note": "Why", "e:valve": "probability", "p:valve": "0,1", "mission_time": "long"}
    response = as_engineer.post(f"/trees/{tree.pk}/variants/add/", typed)
    assert response.status_code == 422
    page = html.fromstring(response.content.decode())
    assert page.xpath('//input[@name="p:valve"]/@value') == ["0,1"]
    assert page.xpath('//input[@name="p:valve"]/@aria-invalid') == ["true"]
    assert page.xpath('//input[@name="note"]/@value') == ["Why"]
    assert "valve: Give a number" in page.text_content()
    assert "Give hours, 0 or more." in page.text_content()
    assert not Variant.objects.exists()


def test_a_search_keeps_what_is_set_and_saves_nothing(as_engineer, tree):
    typed = {"name": "New", "e:valve": "certain", "find": "pump-2", "search": "1"}
    page = html.fromstring(as_engineer.post(f"/trees/{tree.pk}/variants/add/", typed).content.decode())
    assert page.xpath('//select[starts-with(@name, "e:")]/@name') == ["e:valve", "e:pump-2"]
    assert not Variant.objects.exists()


def test_a_change_in_between_is_shown_and_can_be_put_right(as_engineer, variant):
    theirs = {"events": {"valve": True}}
    change_variant(variant_id=variant.pk, actor=make_engineer("bo"), version=1, name="Theirs", overrides=theirs)
    address = f"/variants/{variant.pk}/change/"
    response = as_engineer.post(address, {"name": "Ours", "version": "1", "e:pump-1": "ruled-out"})
    assert response.status_code == 409
    page = html.fromstring(response.content.decode())
    assert "bo saved this variant in the meantime" in page.text_content()
    assert page.xpath('//input[@name="version"]/@value') == ["2"]
    assert as_engineer.post(address, {"name": "Ours", "version": "2", "e:pump-1": "ruled-out"}).status_code == 302
    assert Variant.objects.get().overrides == {"events": {"pump-1": False}}


def test_a_form_begins_with_what_the_variant_says(as_engineer, engineer, tree):
    law = {"exponential": [1e-3, 8.0]}
    variant = add_variant(
        tree_id=tree.pk,
        actor=engineer,
        name="All",
        overrides={"events": {"valve": law, "pump-1": True}, "mission_time": 3},
    )
    address = f"/variants/{variant.pk}/change/"
    page = html.fromstring(as_engineer.get(address).content.decode())
    form = page.xpath("//main//form[@method='post']")[0]
    assert as_engineer.post(address, dict(form.fields)).status_code == 302
    again = Variant.objects.get()
    assert (again.overrides, again.version) == (variant.overrides, 2)


def test_a_variant_is_removed(as_engineer, tree, variant):
    assert as_engineer.post(f"/variants/{variant.pk}/remove/").status_code == 302
    assert not Variant.objects.exists()
