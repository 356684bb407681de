"""The cards of an activity: which are printed, in which revision, and what a sheet of paper holds."""

from __future__ import annotations

import pypdfium2
import pytest

from anomalies.reads import card_sheets
from anomalies.reads.card_sheets import read_cards
from anomalies.services.procedures import use_procedure
from tests.anomalies.people import activity_lead, make_stranger, viewer
from tests.anomalies.procedures import make_drafted, make_procedure, make_released, make_sortie
from tests.anomalies.web.pages import log_in

pytestmark = pytest.mark.django_db


def make_card(title="Pump has tripped", **changes):
    return make_procedure(title=title, kind="card", **changes)


def use(procedure, activity):
    use_procedure(activity_id=activity.pk, procedure_id=procedure.pk, actor=activity_lead())
    return activity


def fetch(activity, query=""):
    """The sheets, by a library that had no part in making them."""
    answer = log_in(viewer()).get(f"/activities/{activity.pk}/cards/cards.pdf{query}")
    assert (answer.status_code, answer.headers["Content-Type"]) == (200, "application/pdf")
    return pypdfium2.PdfDocument(answer.content)


def words(page):
    return " ".join(page.get_textpage().get_text_range().split())


def test_each_card_is_in_the_revision_that_is_in_force_for_the_activity():
    card, first, second = make_card(), make_sortie(1), make_sortie(3)
    make_released(card, "Wait one minute.", sortie=first)
    make_released(card, "Wait ten minutes.", sortie=second)
    for activity, number in ((make_sortie(2), 1), (second, 2)):
        cards = read_cards(viewer(), use(card, activity))
        assert [each.revision.number for each in cards.cards] == [number]
        assert [*cards.missing, *cards.too_long, *cards.others] == []


def test_what_cannot_be_printed_is_named():
    sortie = make_sortie(2)
    drafted, later, listed, other = (make_card(title) for title in ("Drafted", "Later", "Listed", "Other"))
    make_drafted(drafted)
    make_released(later, sortie=make_sortie(5))
    for card in (listed, other):
        make_released(card, sortie=make_sortie(1))
    for card in (drafted, later, listed, make_procedure(title="No card")):
        use(card, sortie)
    cards = read_cards(viewer(), sortie)
    assert [each.revision.procedure for each in cards.cards] == [listed]
    assert list(cards.missing) == [drafted, later]
    assert [each.procedure for each in cards.others] == [other]
    page = log_in(viewer()).get(f"/activities/{sortie.pk}/cards/").content.decode()
    assert "On the list without a revision in force" in page
    assert str(later) in page


def test_a_revision_that_is_longer_than_a_card_is_named_and_not_cut(monkeypatch):
    sortie = make_sortie(1)
    revision = make_released(make_card(), sortie=sortie)
    monkeypatch.setattr(card_sheets, "CARD_LINES", 0)  # a service releases none that is longer than a card is today
    cards = read_cards(viewer(), use(revision.procedure, sortie))
    assert (list(cards.cards), [each.pk for each in cards.too_long]) == ([], [revision.pk])


def test_four_cards_stand_on_a_sheet_of_a4_and_two_on_letter():
    sortie = make_sortie(1)
    for number in range(5):
        card = make_card(f"Card {number}")
        make_released(card, f"Do what card {number} says.", sortie=sortie)
        use(card, sortie)
    for query, size, shown in (("", (595, 842), [4, 1]), ("?paper=letter", (792, 612), [2, 2, 1])):
        pages = list(fetch(sortie, query))
        assert [words(page).count("Do what card") for page in pages] == shown
        assert {tuple(round(side) for side in page.get_size()) for page in pages} == {size}
    assert "Rev 1, released " in words(fetch(sortie)[0])


def test_every_line_of_a_full_card_is_on_the_paper():
    sortie, lines = (
        make_sortie(1),
        [f"Line {number:02} of a card that is as full as a card can be." for number in range(17)],
    )
    make_released(card := make_card(), *lines, sortie=sortie)
    (page,) = fetch(use(card, sortie))
    text = page.get_textpage()
    assert words(page).count("Line ") == len(lines)
    bottoms = [
        text.get_charbox(index)[1] for index in range(text.count_chars()) if text.get_text_range(index, 1).strip()
    ]
    assert min(bottoms) > 842 - 149 / 25.4 * 72, "nothing stands below the first card's own face"


def test_paper_and_people_are_checked():
    sortie = make_sortie(1)
    client = log_in(viewer())
    assert client.get(f"/activities/{sortie.pk}/cards/?paper=a3").status_code == 422
    assert "No card to print" in client.get(f"/activities/{sortie.pk}/cards/").content.decode()
    assert client.get(f"/activities/{sortie.pk}/cards/cards.pdf").status_code == 422
    assert log_in(make_stranger()).get(f"/activities/{sortie.pk}/cards/").status_code == 404
