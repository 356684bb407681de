"""The brief: every sentence has records, dissent and gaps are said, and what no record answers is marked."""

from __future__ import annotations

import json
from dataclasses import replace
from io import BytesIO, StringIO

import pypdfium2
import pytest
from django.core.management import CommandError, call_command

from anomalies.models.base import record_models
from anomalies.reads.brief.anomaly import describe_anomaly
from anomalies.reads.brief.build import read_brief
from anomalies.reads.brief.paper import print_brief
from anomalies.reads.brief.parts import Part, Sentence, say
from anomalies.reads.readiness.figures import find_figure
from anomalies.services.activities import add_activity_hardware
from anomalies.services.lessons import place_lesson
from anomalies.services.revision_moves import approve_revision, release_revision, submit_revision
from anomalies.services.revision_steps import insert_revision_notice
from config.kit.errors import BadInput
from tests.anomalies.fault_trees import make_investigation
from tests.anomalies.lessons import decide, make_issued, tie
from tests.anomalies.people import activity_lead, make_item, make_open, safety_engineer
from tests.anomalies.procedures import make_drafted, make_released, make_sortie, prove, writer
from tests.anomalies.readiness import look, make_requirement, make_review, make_signed, make_transfer, waive

pytestmark = pytest.mark.django_db


def test_read_aloud_it_leaves_details_out_and_no_sentence_is_changed():
    activity = make_transfer()
    brief = read_brief(activity)
    detail = say("A detail.", activity, quiet=True)
    part = Part("Head", (detail, say("It holds.", activity)), (Part("Only details", (detail,)),))
    brief = replace(brief, parts=(part, Part("Details", (detail,))))
    assert brief.spoken.parts == (Part("Head", (say("It holds.", activity),)),)
    assert brief.spoken.questions == brief.questions
    assert brief.minutes == 1
    assert replace(brief, parts=(Part("Head", (say("word " * 420, activity),)),)).minutes == 3


def test_lessons_are_said_decided_or_not():
    lesson = make_issued()
    place_lesson(lesson_id=lesson.pk, actor=safety_engineer(), activity_kind="transfer")
    activity = make_transfer()

    def answers():
        (found,) = (each for each in read_brief(activity).questions if "earlier crews" in each.text)
        return [row.text for row in found.answers]

    assert answers() == [f"{lesson}: nobody has decided on it for {activity}."]
    use = decide(lesson, activity_id=activity.pk)
    assert "Nothing is recorded as changed for it." in answers()[0]
    tie(use)
    assert answers()[0].endswith("Changed for it: Rehearse the chill-down.")


def sentences(brief) -> list[Sentence]:
    """Every sentence of a brief."""

    def walk(part: Part):
        yield from part.sentences
        for each in part.within:
            yield from walk(each)

    told = [row for part in brief.parts for row in walk(part)]
    return [brief.verdict, *told, *(row for each in brief.questions for row in each.answers)]


def make_troubled():
    """A transfer with an item that an open anomaly touches."""
    activity, item = make_transfer(), make_item("X9")
    add_activity_hardware(activity_id=activity.pk, item_id=item.pk, actor=activity_lead())
    anomaly = make_open(hardware_ids=[item.pk], description="It wept at the collar.")
    return activity, anomaly


def test_every_sentence_comes_from_records_that_are_there():
    activity, _ = make_troubled()
    make_review(activity)
    models = {model.KIND: model for model in record_models()}
    said = sentences(read_brief(activity))
    assert len(said) > 5
    for row in said:
        assert row.sources, row.text
        for source in row.sources:
            assert models[source.kind]._base_manager.filter(pk=source.key).exists()


def test_a_sentence_without_a_record_cant_be_said():
    with pytest.raises(ValueError, match="no record says"):
        say("All is well.")


def test_it_says_what_was_seen_and_that_it_is_open():
    activity, anomaly = make_troubled()
    texts = " ".join(row.text for row in sentences(read_brief(activity)))
    assert "It wept at the collar." in texts
    assert f"{anomaly.number}" in texts
    assert "is not closed" in texts


def test_what_no_record_answers_is_marked():
    brief = read_brief(make_transfer())
    assert all(not each.answers for each in brief.questions)
    assert "No record answers this." in read_text(print_brief(brief))


def test_the_verdict_is_said_as_it_is():
    activity = make_transfer()
    assert "hasn't been reviewed" in read_brief(activity).verdict.text
    review = make_signed(activity)
    assert read_brief(activity).verdict.text.endswith("was signed go in round 1.")
    make_requirement()
    assert "stale" in read_brief(activity).verdict.text
    assert review.reread().verdict == "go"


def test_what_was_accepted_is_said_with_risk_and_signature():
    activity, requirement = make_transfer(), make_requirement()
    waive(activity, f"requirement-{requirement.pk}")
    (answer,) = next(each for each in read_brief(activity).questions if "accepted" in each.text).answers
    assert "risk 4D" in answer.text
    assert "rehearsed for transfer 8" in answer.text


def read_text(pdf: bytes) -> str:
    """All text of a PDF."""
    document = pypdfium2.PdfDocument(BytesIO(pdf))
    return " ".join(page.get_textpage().get_text_range() for page in document)


@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_the_paper_has_its_size_a_title_contents_and_page_numbers(paper, size):
    activity, _ = make_troubled()
    pdf = print_brief(read_brief(activity), paper=paper)
    document = pypdfium2.PdfDocument(BytesIO(pdf))
    assert tuple(round(side) for side in document[0].get_size()) == size
    text = read_text(pdf)
    for words in ("Transfer 9", "Contents", "Decision support", f"3 / {len(document)}"):
        assert words in text


def test_an_unknown_paper_is_refused():
    with pytest.raises(BadInput):
        print_brief(read_brief(make_transfer()), paper="a5")


def test_a_new_warning_and_a_new_step_are_said():
    anomaly = make_open()
    first = make_released(None, "Turn the ring.")
    sortie = make_sortie(2)
    draft = make_drafted(first.procedure, "Pull by hand.", anomaly_id=anomaly.pk)
    step = draft.read_steps()[0].key
    insert_revision_notice(
        revision_id=draft.pk, actor=writer(), version=draft.version, step_key=step, kind="warning", text="It bursts."
    )
    submit_revision(revision_id=draft.pk, actor=writer(), version=draft.reread().version)
    engineer, lead = safety_engineer(), activity_lead()
    proofs = prove(engineer), prove(lead)
    approve_revision(revision_id=draft.pk, actor=engineer, version=draft.reread().version, proof=proofs[0])
    given = {"version": draft.reread().version, "proof": proofs[1], "effective_from_id": sortie.pk}
    release_revision(revision_id=draft.pk, actor=lead, **given)
    part = describe_anomaly(anomaly, look(sortie))
    texts = [row.text for each in part.within for row in each.sentences]
    assert "Warning before step 1, added: It bursts." in texts
    assert "Step 2 is new: Pull by hand." in texts


def test_the_figure_of_a_tree_says_how_it_was_got():
    found = find_figure(make_investigation().anomaly)
    assert found.value is not None
    assert "exact with uncertain parameters" in found.method
    assert ("range" in found.method) == (found.low is not None)
    assert find_figure(make_open()) is None


def test_the_command_prints_json_with_records(tmp_path):
    activity, anomaly = make_troubled()
    out = StringIO()
    call_command("brief", activity.title, json=True, stdout=out)
    document = json.loads(out.getvalue())
    assert document["format"] == "siftwood brief 1"
    assert any(
        source["key"] == anomaly.pk and source["kind"] == "anomaly"
        for part in document["parts"]
        for each in part["within"]
        for inner in each["within"]
        for row in inner["sentences"]
        for source in row["sources"]
    )
    file = tmp_path / "brief.pdf"
    call_command("brief", str(activity.pk), pdf=str(file), stdout=StringIO())
    assert file.read_bytes().startswith(b"%PDF")


def test_the_command_says_which_activity_it_cant_tell():
    make_transfer(), make_transfer()
    with pytest.raises(CommandError, match="give the key of one"):
        call_command("brief", "Transfer 9", json=True)
    with pytest.raises(CommandError, match="No activity is called"):
        call_command("brief", "Nothing", json=True)
