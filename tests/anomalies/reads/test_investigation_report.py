"""The report of an anomaly on paper: all that is held of it, dissent included, as tagged PDF of real pages."""

from __future__ import annotations

import pypdfium2
import pypdfium2.raw
import pytest

from anomalies.models import Anomaly
from anomalies.reads.brief.build import read_brief
from anomalies.reads.brief.paper import print_brief
from anomalies.reads.investigation_report import print_anomaly, read_report
from anomalies.services.anomalies import add_anomaly_hardware
from anomalies.services.findings import state_position
from anomalies.services.ties import constrain
from config.kit.errors import BadInput
from tests.anomalies.actions import make_verified
from tests.anomalies.fault_trees import conclude, judge_all, make_investigation
from tests.anomalies.investigation import make_confirmed, make_finding, seat, second_member
from tests.anomalies.people import board_member, make_item, make_open, safety_engineer
from tests.anomalies.readiness import make_transfer

pytestmark = pytest.mark.django_db


def open_pdf(content: bytes) -> pypdfium2.PdfDocument:
    return pypdfium2.PdfDocument(content)


def read_text(content: bytes) -> str:
    return " ".join(" ".join(page.get_textpage().get_text_bounded() for page in open_pdf(content)).split())


@pytest.fixture
def investigated() -> Anomaly:
    """An anomaly with a tree, a dissent, a confirmed cause and a verified action."""
    investigation = conclude(judge_all(make_investigation()))
    anomaly = investigation.anomaly
    add_anomaly_hardware(anomaly_id=anomaly.pk, item_id=make_item("SN-0417").pk, actor=board_member())
    seat(anomaly, board_member(), second_member())
    finding = make_finding(anomaly, statement="The seal was cold-set.")
    state_position(finding_id=finding.pk, actor=second_member(), stand="dissents", text="It may be scored.", wording=1)
    make_verified(make_confirmed(anomaly))
    return anomaly.reread()


def test_everything_that_is_held_stands_in_it(investigated):
    said = read_text(print_anomaly(investigated))
    finding = investigated.findings.get()
    action = investigated.actions.get()
    assert investigated.number in said
    for text in (
        *("Investigation report", "Contents", "SN-0417", finding.label, "The seal was cold-set.", "dissents"),
        *("It may be scored.", action.number, action.title, action.verification_note, "Concluded by", "Posterior"),
        *("sheet 1 of 1", "valve", "Decision support", "Signatures"),
    ):
        assert text in said, text


def test_every_disposition_gives_its_grounds(investigated):
    said = read_text(print_anomaly(investigated))
    tree = read_report(investigated).tree
    judged = [row.disposition for row in tree.view.events if row.disposition and row.disposition.state != "open"]
    assert judged
    for disposition in judged:
        assert disposition.rationale in said


def test_little_is_recorded_and_it_says_so():
    said = read_text(print_anomaly(make_open()))
    for text in ("The board has recorded none.", "None is stated.", "isn't investigated by a fault tree"):
        assert text in said


@pytest.mark.parametrize(("paper", "size"), [("a4", (595.3, 841.9)), ("letter", (612, 792))])
def test_its_pages_are_of_the_paper_and_sheets_of_the_tree_lie_across(investigated, paper, size):
    document = open_pdf(print_anomaly(investigated, paper=paper))
    sizes = {tuple(round(side) for side in page.get_size()) for page in document}
    upright = tuple(round(side) for side in size)
    assert sizes == {upright, upright[::-1]}


def test_a_paper_that_is_not_known_is_refused():
    with pytest.raises(BadInput) as caught:
        print_anomaly(make_open(), paper="a3")
    assert "paper" in caught.value.fields


def test_pages_are_tagged_and_none_is_blank(investigated):
    """Tagged: a screen reader finds headings, tables and their order."""
    for content in (print_anomaly(investigated), print_brief(read_brief(make_transfer()))):
        document = open_pdf(content)
        assert pypdfium2.raw.FPDFCatalog_IsTagged(document.raw)
        assert document.get_metadata_value("Title")
        for page in document:
            levels = page.render(scale=0.3, grayscale=True).to_numpy()
            assert levels.min() < 160, "nothing is printed on it"


def test_the_trees_of_a_brief_are_drawn_as_vectors():
    investigation = make_investigation()
    sortie = make_transfer()
    anomaly = investigation.anomaly
    constrain(anomaly_id=anomaly.pk, actor=safety_engineer(), statement="Not before.", activity_id=sortie.pk)
    document = open_pdf(print_brief(read_brief(sortie)))
    (page,) = (page for page in document if page.get_width() > page.get_height())
    kinds = {thing.type for thing in page.get_objects(max_depth=4)}
    assert pypdfium2.raw.FPDF_PAGEOBJ_PATH in kinds
    assert pypdfium2.raw.FPDF_PAGEOBJ_IMAGE not in kinds
    assert "sheet 1 of 1" in " ".join(page.get_textpage().get_text_bounded().split())
