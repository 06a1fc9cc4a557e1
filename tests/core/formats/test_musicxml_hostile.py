"""Damaged, oversized and malicious files: one sentence, quickly, and nothing else."""

import io
import re
import zipfile

import pytest

from core.formats import musicxml_read
from core.formats.musicxml_container import MOST_MEASURES
from core.model.errors import BadInput

NOTE = "<note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration></note>"
HEAD = "<attributes><divisions>1</divisions></attributes>"


def score(*measures, head=HEAD):
    """A part-wise score of one part."""
    inside = "".join(
        f'<measure number="{n}">{head if n == 1 else ""}{m}</measure>'
        for n, m in enumerate(measures, start=1)
    )
    return f'<score-partwise><part id="P1">{inside}</part></score-partwise>'.encode()


def refusal(data, name="tune.xml"):
    with pytest.raises(BadInput) as caught:
        musicxml_read.read(data, name)
    sentence = str(caught.value)
    assert sentence.startswith(name)
    assert sentence.endswith(".")
    assert "\n" not in sentence
    assert len(sentence) < 250
    return sentence


BOMB = b"""<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>
<score-partwise><part id="P1"><measure number="1">&b;</measure></part></score-partwise>"""
OUTSIDE = BOMB.replace(b'<!ENTITY a "ha">', b'<!ENTITY a SYSTEM "file:///etc/passwd">')


@pytest.mark.parametrize("data", [BOMB, OUTSIDE, BOMB.decode().encode("utf-16")])
def test_entities_are_refused(data):
    assert "entities" in refusal(data)


def test_entities_in_a_rare_encoding_or_undeclared_are_refused():
    rare = BOMB.decode().replace('"1.0"', '"1.0" encoding="UTF-32"').encode("utf-32")
    assert "entities" in refusal(rare)
    doctype = b'<!DOCTYPE score-partwise PUBLIC "-//x//y//EN" "http://127.0.0.1:9/none.dtd">'
    refusal(doctype + score(NOTE, "&nothing;"))


@pytest.mark.parametrize(
    "data",
    [
        b"", b"   ", b"no music", b"<a", b"<a/>", b"\x00\x01\x02", b"PK\x03\x04 broken",
        b"<score-partwise/>", b'<score-partwise><part id="P1"/></score-partwise>',
        b"<html><body/></html>", "ünï".encode("latin-1"),
    ],
)  # fmt: skip
def test_what_is_no_score_is_refused(data):
    refusal(data)


def test_a_cut_off_file_names_its_line():
    data = score(*[NOTE] * 5).replace(b"<measure", b"\n<measure")
    assert re.search(r"line \d", refusal(data[:-60]))


def test_deep_nesting_is_refused():
    refusal(b"<score-partwise>" + b"<a>" * 100_000)


def zipped(members):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return stream.getvalue()


def test_a_zip_bomb_is_refused_before_it_is_unpacked():
    data = zipped({"score.xml": b" " * (80 * 1024 * 1024)})
    assert len(data) < 200_000
    assert "unpacks to more" in refusal(data, "tune.mxl")


def test_an_archive_without_a_score_is_refused():
    assert "without a MusicXML score" in refusal(zipped({"readme.txt": b"hello"}))
    container = b'<container><rootfiles><rootfile full-path="../../x.xml"/></rootfiles></container>'
    assert "without" in refusal(zipped({"META-INF/container.xml": container}))


def test_a_compressed_score_is_known_by_its_content():
    data = zipped({"inside.musicxml": score(NOTE)})
    assert musicxml_read.read(data, "odd.name").report.parts[0].notes == 1


def test_more_measures_than_the_cap_are_refused_clearly():
    sentence = refusal(score(*[NOTE] * 10_000))
    assert "10000 measures" in sentence
    assert str(MOST_MEASURES) in sentence


def test_as_many_measures_as_the_cap_are_read():
    imported = musicxml_read.read(score(*[NOTE] * MOST_MEASURES), "long.xml")
    assert imported.report.parts[0].notes == MOST_MEASURES


@pytest.mark.parametrize(
    "inside",
    [
        NOTE.replace("<step>C", "<step>H"),
        NOTE.replace("<octave>4", "<octave>99"),
        NOTE.replace("<octave>4</octave>", ""),
        NOTE.replace("<duration>4", "<duration>many"),
        NOTE.replace("<duration>4", "<duration>-4"),
        NOTE.replace("<duration>4", "<duration>1e9"),
        NOTE.replace("<duration>4", "<duration>99999999"),
        NOTE.replace("<duration>4</duration>", ""),
        NOTE.replace("<octave>", "<alter>x</alter><octave>"),
        NOTE.replace("<octave>", "<alter>1e400</alter><octave>"),
        NOTE + "<backup><duration>-1</duration></backup>",
        "<attributes><divisions>0</divisions></attributes>" + NOTE,
        "<attributes><key><fifths>many</fifths></key></attributes>" + NOTE,
    ],
)
def test_what_does_not_fit_is_refused_by_measure(inside):
    assert "measure 2" in refusal(score(NOTE, inside))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "iso-8859-1"])
def test_encodings(encoding):
    text = score(NOTE).decode()
    text = text.replace("<part id", "<work><work-title>Für dich</work-title></work><part id")
    data = f'<?xml version="1.0" encoding="{encoding}"?>{text}'.encode(encoding)
    assert musicxml_read.read(data, "x").lesson.title == "Für dich"


def test_time_wise_is_read_like_part_wise():
    timewise = (
        '<score-timewise><measure number="1"><part id="P1">' + HEAD + NOTE + "</part></measure>"
        '<measure number="2"><part id="P1">' + NOTE + "</part></measure></score-timewise>"
    )
    one = musicxml_read.read(timewise.encode(), "x").lesson
    two = musicxml_read.read(score(NOTE, NOTE), "x").lesson
    assert one.arrangement == two.arrangement


def test_damage_is_told_with_its_line_and_what_to_do():
    damaged = score(NOTE).replace(b"</note>", b"\n</nite>")
    said = refusal(damaged)
    assert said.startswith("tune.xml is damaged at line 2 and cannot be opened; get the file again")


@pytest.mark.parametrize("data", [b"hello", b"GIF89a", "ünï".encode("latin-1"), b"{}"])
def test_something_else_is_said_to_be_something_else(data):
    assert refusal(data, "tune.mxl") == "tune.mxl is not a MusicXML score; it holds something else."
