"""The report on paper: read page by page with a PDF library that had no part in making it."""

from __future__ import annotations

import html
import re

import pypdfium2
import pypdfium2.raw as pdfium
import pytest

from faulttree.models import Run
from faulttree.reads import papers
from faulttree.reads.graphs import read_revision_graph
from tests.faulttree.bench.test_exports import COOLING, fetch
from tests.faulttree.people import PUMPS, TWO_TOPS, make_done_run, make_revision

TRANSFER = re.compile(r"T(\d+) to sheet (\d+)")
SOURCE = re.compile(r"T(\d+) from sheets? ([\d, ]+)")


@pytest.fixture
def cooling(engineer):
    return make_done_run(engineer, make_revision(engineer, COOLING), mission_time=8.0)


def open_report(client, revision, query=""):
    """The document behind the link, as a browser would save it."""
    content, name = fetch(client, f"{revision.get_absolute_url()}report.pdf{query}")
    assert name == f"{revision.tree.name}-revision-1.pdf"
    return pypdfium2.PdfDocument(content)


def read_pages(document) -> list[str]:
    """The text of every page, blanks made single."""
    return [" ".join(page.get_textpage().get_text_range().split()) for page in document]


def is_blank(page) -> bool:
    """Whether there is no ink above the foot of a page."""
    picture = page.render(scale=0.5).to_pil().convert("L")
    width, height = picture.size
    return picture.crop((0, 0, width, int(height * 0.93))).getextrema()[0] > 200


def smallest_letter(page) -> float:
    """The size of the smallest letters of a page, in points."""
    text = page.get_textpage()
    sizes = []
    for index in range(text.count_chars()):
        if text.get_text_range(index, 1).strip():
            matrix = pdfium.FS_MATRIX()
            pdfium.FPDFText_GetMatrix(text.raw, index, matrix)
            sizes.append(pdfium.FPDFText_GetFontSize(text.raw, index) * abs(matrix.d))
    return min(sizes)


def sheet_pages(pages: list[str]) -> dict[int, str]:
    """The pages of the diagram by number of sheet."""
    found = {}
    for text in pages:
        head = re.match(r"Sheet (\d+) of (\d+) ", text)
        if head:
            found[int(head[1])] = text
    return found


def test_the_head_says_what_it_is_by_whom_when_and_how(as_viewer, cooling):
    revision = cooling.revision
    first = read_pages(open_report(as_viewer, revision, f"?run={cooling.pk}"))[0]
    assert "Loss of suit cooling" in first
    assert "Revision 1, by ada" in first
    assert f"{revision.created:%Y %H:%M} UTC" in first
    assert "for vic" in first
    assert "exact" in first
    assert f"{cooling.result['probability']:.5e}".split("e")[0] in first
    assert "Decision support only: the figures hold under the listed assumptions" in first
    for note in cooling.result["notes"]:
        assert " ".join(note.split())[:60] in first


@pytest.mark.parametrize(("paper", "size"), [("a4", (842, 595)), ("letter", (792, 612))])
def test_sheets_are_whole_pages_that_can_be_read_and_refer_to_each_other(as_viewer, cooling, paper, size):
    document = open_report(as_viewer, cooling.revision, f"?run={cooling.pk}&paper={paper}")
    pages = read_pages(document)
    assert not [number for number, page in enumerate(document, 1) if is_blank(page)]
    assert {tuple(round(side) for side in page.get_size()) for page in document} == {size}
    sheets = sheet_pages(pages)
    count = int(re.match(r"Sheet \d+ of (\d+)", sheets[1])[1])
    assert list(sheets) == list(range(1, count + 1))
    assert [pages.index(text) for text in sheets.values()] == list(range(1, count + 1))
    assert count > 2
    to = {(int(number), at, int(home)) for at, text in sheets.items() for number, home in TRANSFER.findall(text)}
    back = {
        (int(number), int(source), at)
        for at, text in sheets.items()
        for number, listed in SOURCE.findall(text)
        for source in re.findall(r"\d+", listed)
    }
    assert back <= to
    assert {number for number, _, _ in to} == set(range(1, len({number for number, _, _ in to}) + 1))
    assert len(back) >= 3
    assert min(smallest_letter(page) for page in document) > 6.4


def test_every_gate_of_the_tree_is_on_some_sheet(as_viewer, cooling):
    text = " ".join(sheet_pages(read_pages(open_report(as_viewer, cooling.revision, f"?run={cooling.pk}"))).values())
    graph = read_revision_graph(cooling.revision, cooling)
    gates = [node.name for node in graph.nodes.values() if node.is_gate]
    missing = [name for name in gates if name[:20] not in text]
    assert missing == []


def test_tables_say_how_much_they_show(as_viewer, engineer, monkeypatch):
    run = make_done_run(engineer, make_revision(engineer, COOLING), mission_time=8.0, list_count=10)
    monkeypatch.setattr(papers, "MOST_CUT_SETS", 4)
    monkeypatch.setattr(papers, "MOST_EVENTS", 5)
    text = " ".join(read_pages(open_report(as_viewer, run.revision, f"?run={run.pk}")))
    count = run.result["cut_sets"]["count"]
    assert "The first 4 of those that the run lists." in text
    assert f"The 10 likeliest of {count} minimal cut sets are listed (asked for: at most 10); {count - 10} are" in text
    assert f"The first 5 of {len(run.result['importance'])} events by Birnbaum importance" in text


def test_a_bracket_is_never_called_exact(as_viewer, cooling):
    result = {name: value for name, value in cooling.result.items() if name != "probability"}
    result |= {"method": "bracket", "lower": 2e-5, "upper": 3e-5, "importance": {}}
    Run.objects.filter(pk=cooling.pk).update(result=result)
    pages = read_pages(open_report(as_viewer, cooling.revision, f"?run={cooling.pk}"))
    assert "certified bracket, not exact" in pages[0]
    assert not re.search(r"(?<!not )exact\b", pages[0])
    assert "Importance of events" not in " ".join(pages)


def test_a_revision_without_an_answer_is_printed_as_drawn(as_viewer, engineer):
    pages = read_pages(open_report(as_viewer, make_revision(engineer, TWO_TOPS)))
    assert "Not computed" in pages[0]
    assert "no-flow" in pages[1]


def test_a_branch_is_printed_alone_and_called_one(as_viewer, cooling):
    page = as_viewer.get(f"/runs/{cooling.pk}/?focus=no-pumping").content.decode()
    link = html.unescape(re.search(r'href="([^"]*report\.pdf\?focus[^"]*)"', page)[1])
    pages = read_pages(pypdfium2.PdfDocument(fetch(as_viewer, link)[0]))
    assert "Fault tree, one branch" in pages[0]
    assert "Probability of the top event of the whole tree" in pages[0]
    assert "no-pumping" in pages[1]
    assert "coolant-lost" not in " ".join(sheet_pages(pages).values())


def test_what_would_take_too_long_is_refused_with_the_mend(as_viewer, cooling, monkeypatch):
    monkeypatch.setattr(papers, "MOST_SHEETS", 2)
    answer = as_viewer.get(f"{cooling.revision.get_absolute_url()}report.pdf")
    assert answer.status_code == 409
    assert "at most 2 are printed at once. Show a branch of the tree alone" in answer.content.decode()
    page = as_viewer.get(f"/runs/{cooling.pk}/").content.decode()
    assert "at most 2 are printed at once" in page
    assert "report.pdf" not in page


def test_a_very_large_tree_is_not_even_split(as_viewer, cooling, monkeypatch):
    monkeypatch.setattr(papers, "MOST_GATES", 3)
    answer = as_viewer.get(f"{cooling.revision.get_absolute_url()}report.pdf")
    assert (answer.status_code, "hundreds of sheets" in answer.content.decode()) == (409, True)


@pytest.mark.parametrize("query", ["?paper=a0", "?focus=nothing", "?focus=valve"])
def test_what_is_not_there_is_named(as_viewer, engineer, query):
    answer = as_viewer.get(f"{make_revision(engineer).get_absolute_url()}report.pdf{query}")
    assert answer.status_code == 422


def test_a_missing_library_is_named_with_the_package(as_viewer, engineer, monkeypatch):
    def fail(name, *args, **kwargs):
        if name == "weasyprint":
            raise OSError("cannot load library 'libpango-1.0-0'")
        return load(name, *args, **kwargs)

    load = __import__
    revision = make_revision(engineer)
    monkeypatch.setattr("builtins.__import__", fail)
    answer = as_viewer.get(f"{revision.get_absolute_url()}report.pdf")
    assert answer.status_code == 503
    assert "apt-get install libpango-1.0-0" in answer.content.decode()


def test_texts_of_people_are_no_markup_and_no_style(as_viewer, engineer):
    source = PUMPS.replace("No flow", 'var(--x) &lt;b>"}').replace("Valve stuck", "&lt;img src='file:///etc/passwd'>")
    run = make_done_run(engineer, make_revision(engineer, source))
    text = " ".join(read_pages(open_report(as_viewer, run.revision, f"?run={run.pk}")))
    assert 'var(--x) <b>"}' in text
    assert "<img src='file:///etc/passwd'>" in text


def test_strangers_find_no_report(as_stranger, engineer):
    assert as_stranger.get(f"{make_revision(engineer).get_absolute_url()}report.pdf").status_code == 404


def test_the_api_prints_the_same_report(as_viewer, cooling):
    at = f"trees/{cooling.revision.tree_id}/revisions/1"
    query = f"?run={cooling.pk}&focus=no-pumping&paper=letter"
    content, name = fetch(as_viewer, f"/api/v1/{at}/report/{query}")
    page = read_pages(open_report(as_viewer, cooling.revision, query))
    assert name == "suit-cooling-revision-1.pdf"
    assert sheet_pages(read_pages(pypdfium2.PdfDocument(content))) == sheet_pages(page)
    refused = as_viewer.get(f"/api/v1/{at}/report/?paper=a0")
    assert (refused.status_code, refused.json()["code"]) == (400, "no_such_paper")
