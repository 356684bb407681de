"""The tint of events and the marks of changes on the page of a revision."""

from __future__ import annotations

import pytest
from lxml import html

from faulttree.services.trees import revise_tree
from tests.faulttree.people import PUMPS, make_done_run, make_revision

CHANGED = (
    PUMPS.replace('value="0.01"', 'value="0.02"')
    .replace('<basic-event name="valve"/></or>', '<basic-event name="valve"/><basic-event name="hose"/></or>')
    .replace(
        "</define-fault-tree>",
        '<define-basic-event name="hose"><float value="0.001"/></define-basic-event></define-fault-tree>',
    )
)


@pytest.fixture
def revision(engineer):
    return make_revision(engineer)


def get(client, url, **params):
    """The page, parsed."""
    response = client.get(url, params)
    assert response.status_code == 200
    return html.fromstring(response.content.decode())


def test_events_are_tinted_by_a_measure_with_a_legend(as_viewer, engineer, revision):
    make_done_run(engineer, revision)
    page = get(as_viewer, f"/trees/{revision.tree_id}/", shade="birnbaum")
    valve = page.xpath('//*[@data-name="valve"]')[0]
    assert "is-shade-5" in valve.get("class")
    assert "Birnbaum importance 0.9800." in valve.findtext("title")
    assert len(page.xpath('//*[contains(@class, "shade-step__swatch--")]')) == 5
    assert page.xpath('//select[@name="shade"]/option[@selected]/@value') == ["birnbaum"]


def test_the_tint_stays_while_the_sheet_changes(as_viewer, engineer, revision):
    make_done_run(engineer, revision)
    page = get(as_viewer, f"/trees/{revision.tree_id}/", shade="probability")
    assert all("shade=probability" in link.get("href") for link in page.xpath('//a[contains(@class, "ft-link")]'))


def test_without_an_answer_there_is_nothing_to_choose(as_viewer, revision):
    page = get(as_viewer, f"/trees/{revision.tree_id}/", shade="birnbaum")
    assert not page.xpath('//select[@name="shade"]')


def test_changes_since_the_revision_before_are_marked(as_viewer, engineer, revision):
    newest = revise_tree(tree_id=revision.tree_id, actor=engineer, source=CHANGED.encode(), file_name="b.xml")
    page = get(as_viewer, newest.get_absolute_url(), changes="1")
    tips = {node.get("data-name"): node.findtext("title") for node in page.xpath("//*[@data-name]")}
    assert tips["hose"].endswith("New in this revision.")
    assert tips["valve"].endswith("Changed in this revision.")
    assert "in this revision" not in tips["pump-1"]
    assert "Since revision 1: " in page.text_content()
    assert "Mark changes" in get(as_viewer, newest.get_absolute_url()).text_content()


def test_the_first_revision_has_nothing_to_mark(as_viewer, revision):
    page = get(as_viewer, revision.get_absolute_url(), changes="1")
    assert "Mark changes" not in page.text_content()
    assert not page.xpath('//*[contains(@class, "ft-change")]')


def test_the_file_of_the_diagram_holds_tints_and_says_what_they_are(as_viewer, engineer, revision):
    run = make_done_run(engineer, revision)
    page = get(as_viewer, f"/trees/{revision.tree_id}/", shade="birnbaum")
    (link,) = page.xpath('//a[contains(., "Save as shown")]/@href')
    assert "shade=birnbaum" in link
    drawn = as_viewer.get(link).content.decode()
    assert "is-shade-5" in drawn
    assert "Events are tinted by Birnbaum importance" in drawn
    assert str(run.pk) in link
