"""The store of files: what comes in, under which name, and what is left behind by what doesn't."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from anomalies.models import Evidence
from anomalies.services.evidence import add_evidence, add_files, describe_evidence, open_evidence
from anomalies.services.evidence_files import clean_name, path_of
from config.kit.errors import BadInput, NotAllowed, Refused, WrongState
from tests.anomalies.files import PDF, PNG, SERIES, make_evidence, make_photograph, upload
from tests.anomalies.people import make_draft, make_open, recorder, viewer
from tests.anomalies.refusals import refused

pytestmark = pytest.mark.django_db
TELEMETRY = {"kind": "telemetry", "title": "Pump current", "unit": "A"}


@pytest.fixture(autouse=True)
def store(settings, tmp_path):
    settings.EVIDENCE_DIR = str(tmp_path / "evidence")
    return tmp_path / "evidence"


def files_in(store: Path) -> list[Path]:
    return [path for path in store.rglob("*") if path.is_file()]


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\Users\\ev2\\seal.png", "seal.png"),
        ("a\r\nSet-Cookie: x.png", "aSet-Cookie: x.png"),
        ("photo\u202egnp.exe", "photognp.exe"),
        ("nul\0.png", "nul.png"),
        ("...", "unnamed"),
        ("", "unnamed"),
        ("x" * 300 + ".png", "x" * 251 + ".png"),
    ],
)
def test_hostile_names_are_only_names(given, kept):
    assert clean_name(given) == kept


def test_the_store_is_private_and_its_files_cannot_be_written_by_chance(store):
    path = path_of(make_photograph().sha256)
    assert stat.S_IMODE(store.stat().st_mode) == 0o700
    assert stat.S_IMODE(path.stat().st_mode) == 0o400
    assert files_in(store) == [path]


@pytest.mark.parametrize(
    ("kind", "data", "name", "says"),
    [
        ("photograph", b"<html><script>alert(1)</script>", "frost.png", "is text in UTF-8. Choose a PNG"),
        ("photograph", b"<svg onload='alert(1)'/>", "frost.svg", "is text in UTF-8"),
        ("photograph", PDF, "frost.jpg", "is a PDF document"),
        ("photograph", b" " + PNG, "frost.png", "no type that is known here"),
        ("document", PNG, "report.pdf", "named like another type: by its content it is a PNG picture"),
        ("document", b"MZ\x90\0", "report.pdf", "named like another type"),
        ("telemetry", b"PK\x03\x04 a spreadsheet", "pump.csv", "a time and a value on each line"),
        ("telemetry", "time,value\n".encode("utf-16"), "pump.csv", "text in UTF-8"),
        ("telemetry", b"time,value\nnever,1\n", "pump.csv", "isn't a time"),
        ("statement", b"PK\x03\x04 letter", "ev2.docx", "text, a PDF document or a picture"),
    ],
)
def test_a_file_of_the_wrong_type_is_refused_in_words_and_leaves_nothing(store, kind, data, name, says):
    anomaly = make_open()
    recorder()
    more = {"unit": "A"} if kind == "telemetry" else {"stated_by": "EV2"} if kind == "statement" else {}
    with refused(BadInput) as caught:
        add_evidence(anomaly_id=anomaly.pk, actor=recorder(), kind=kind, title="Frost", file=upload(data, name), **more)
    assert any(says in message for message in caught.value.fields["file"])
    assert files_in(store) == []


@pytest.mark.parametrize("data", [b"GIF89a/*<script>*/=alert(1)", PNG + b"<script>alert(1)</script>"])
def test_a_picture_that_is_a_script_too_is_known_as_a_picture_alone(data):
    assert make_photograph(data=data, name="two-faced").media_type in ("image/gif", "image/png")


def test_what_must_be_refused_is_refused_before_the_file_is_read(store):
    class Unread:
        name = "photo.png"

        def chunks(self):
            raise AssertionError("was read")

    draft, anomaly = make_draft(), make_open()
    for actor, where, error in ((viewer(), anomaly, NotAllowed), (recorder(), draft, WrongState)):
        with refused(error):
            add_evidence(anomaly_id=where.pk, actor=actor, kind="photograph", title="x", file=Unread())
    assert files_in(store) == []


def test_many_files_are_many_pieces_in_one_go():
    anomaly = make_open()
    given = {"anomaly_id": anomaly.pk, "actor": recorder(), "kind": "photograph"}
    files = [upload(PNG + bytes([number]), f"{number}.png") for number in range(3)]
    made = add_files(**given, files=files, title="Seal")
    assert [piece.title for piece in made] == ["Seal (1 of 3)", "Seal (2 of 3)", "Seal (3 of 3)"]
    assert [piece.label for piece in made] == ["E1", "E2", "E3"]
    assert add_files(**given, files=[upload(name="IMG 7.png")])[0].title == "IMG 7.png"


def test_one_bad_file_keeps_all_of_them_out_and_every_bad_one_is_named():
    anomaly = make_open()
    recorder()
    files = [upload(), upload(PDF, "a.jpg"), upload(b"", "b.png")]
    with refused(BadInput, code="bad_file") as caught:
        add_files(anomaly_id=anomaly.pk, actor=recorder(), kind="photograph", files=files)
    assert [message.split("”")[0] for message in caught.value.fields["file"]] == [
        "By its content “a.jpg",
        "“b.png",
    ]
    with refused(BadInput) as caught:
        add_files(anomaly_id=anomaly.pk, actor=recorder(), kind="photograph", files=files, taken_at="soon")
    assert "taken_at" in caught.value.fields


def test_no_more_than_fifty_files_and_no_fewer_than_one():
    anomaly = make_open()
    recorder()
    for files in ([], [upload()] * 51):
        with refused(BadInput):
            add_files(anomaly_id=anomaly.pk, actor=recorder(), kind="photograph", files=files)


def test_a_file_that_is_gone_is_refused_and_no_opening_is_recorded():
    evidence = make_photograph()
    viewer()
    path_of(evidence.sha256).unlink()
    with refused(Refused, code="file_changed"):
        open_evidence(evidence_id=evidence.pk, actor=viewer())


def test_the_same_bytes_added_again_bring_a_lost_file_back():
    evidence = make_photograph()
    path_of(evidence.sha256).unlink()
    make_photograph(evidence.anomaly)
    open_evidence(evidence_id=evidence.pk, actor=viewer())[1].close()


def test_without_a_file_there_is_nothing_to_open():
    evidence = make_evidence()
    viewer()
    with refused(BadInput, code="no_file"):
        open_evidence(evidence_id=evidence.pk, actor=viewer())


def test_telemetry_whose_file_was_changed_gets_no_new_spans():
    evidence = make_evidence(**TELEMETRY, statement="", stated_by="", file=upload(SERIES, "pump.csv"))
    path_of(evidence.sha256).chmod(0o600)
    path_of(evidence.sha256).write_bytes(SERIES.replace(b"31", b"21"))
    with refused(Refused, code="file_changed"):
        describe_evidence(evidence_id=evidence.pk, actor=recorder(), version=1, changes={"high": 25.0})
    assert Evidence.objects.get(pk=evidence.pk).high is None


def test_what_a_killed_process_left_half_written_is_swept_a_day_later(store):
    store.mkdir()
    old, new = store / "draft-old", store / "draft-new"
    for draft in (old, new):
        draft.write_bytes(b"half")
    os.utime(old, (0, 0))
    make_photograph()
    assert (old.exists(), new.exists()) == (False, True)
