"""The kit: complete, the same each time, and read by programs that are not ours."""

from __future__ import annotations

import wave
from pathlib import Path

import mido
import pypdf
import pytest
from lxml import etree
from msgspec import structs

pytest.importorskip("core.formats.musicxml_write", reason="MusicXML is still being written")

import resources.faces
import resources.metrics
from core.kit.contents import contents, tuning
from core.kit.make import Press, make, stamp
from core.model import LOWERED_SIXTH, Instrument, Pitch, Settings, SourceCard
from core.page.metrics import build as build_metrics
from core.sound.ring import TAIL_SECONDS
from core.store import load
from tests import build

DATE = "2026-03-01"
LOWERED = Instrument(tuple(Pitch.parse(text) for text in LOWERED_SIXTH), capo=2)
LESSON = structs.replace(
    build.lesson(["E4s1f0:whole"], ["G4s1f3:half r:half"], title="Two Gates"),
    settings=Settings(practice_percent=50),
    source=SourceCard(composer="Nobody", credit="Made up for this test", rights="Free"),
)


@pytest.fixture(scope="module")
def press() -> Press:
    return Press(build_metrics(resources.metrics.load()), resources.faces.data())


@pytest.fixture(scope="module")
def folder(press: Press, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("kit") / "two-gates"
    make(LESSON, folder, press, DATE)
    return folder


def test_everything_is_there_and_listed(folder: Path) -> None:
    assert (
        (folder / "contents.txt").read_text()
        == f"""Two Gates
Made up for this test
Free

Lesson version {stamp(LESSON)}, made on 2026-03-01
Tuning, string 6 to string 1: E2 A2 D3 G3 B3 E4

two-gates-handout.pdf    The pages to print
two-gates-section-a.wav  Section A at practice tempo: 30 beats a minute (50 %), counted in
two-gates-section-b.wav  Section B at practice tempo: 30 beats a minute (50 %), counted in
two-gates.mid            The whole piece as MIDI
two-gates-section-a.mid  Section A as MIDI
two-gates-section-b.mid  Section B as MIDI
two-gates.musicxml       The score for other notation programs (MusicXML 4.0)
two-gates.footstool      The lesson itself, to open again

Take care
- Stop if it hurts, and rest. If the pain comes back, see a doctor before playing on.
- Listen at moderate volume, above all with headphones.
- To change the tuning, let strings down, slowly; never tune one above its usual note.
- Where your teacher or doctor says otherwise, follow them.
"""
    )
    listed = {line.split("  ")[0] for line in (folder / "contents.txt").read_text().splitlines()}
    assert {p.name for p in folder.iterdir()} - {"contents.txt"} <= listed


def test_the_lesson_in_the_kit_is_the_lesson(folder: Path) -> None:
    assert load(folder / "two-gates.footstool") == LESSON


def test_the_handout_is_an_a4_page_with_title_and_credit(folder: Path) -> None:
    pages = pypdf.PdfReader(folder / "two-gates-handout.pdf").pages
    assert len(pages) == 1
    # ISO 216: A4 is 210 mm by 297 mm.
    assert [float(side) for side in pages[0].mediabox[2:]] == pytest.approx(
        [595.276, 841.890], 1e-4
    )
    text = pages[0].extract_text()
    assert "Two Gates" in text
    assert "Made up for this test" in text


def test_a_section_sounds_at_practice_tempo_after_its_count_in(folder: Path) -> None:
    """Four quarters at 30 a minute last 8 s (60 / bpm a beat), and so does their count-in."""
    with wave.open(str(folder / "two-gates-section-a.wav")) as sound:
        assert (sound.getnchannels(), sound.getsampwidth()) == (1, 2)
        seconds = sound.getnframes() / sound.getframerate()
    assert 16.0 <= seconds <= 16.0 + TAIL_SECONDS


def test_midi_of_the_whole_and_of_one_section(folder: Path) -> None:
    def pitches(name: str) -> list[int]:
        file = mido.MidiFile(folder / name)
        return [m.note for m in file if m.type == "note_on" and m.velocity]

    assert pitches("two-gates.mid") == [64, 67]
    assert pitches("two-gates-section-b.mid") == [67]


def test_the_same_lesson_and_date_make_the_same_files(
    folder: Path, press: Press, tmp_path: Path
) -> None:
    made = make(LESSON, tmp_path / "again", press, DATE)
    for artefact in made:
        again = (tmp_path / "again" / artefact.name).read_bytes()
        assert again == (folder / artefact.name).read_bytes(), artefact.name
        assert len(again) == artefact.size_bytes


def test_pictures_come_where_pages_can_be_painted(press: Press, tmp_path: Path) -> None:
    painted = structs.replace(press, raster=lambda sheet: b"picture of %d" % len(sheet.blocks))
    made = make(LESSON, tmp_path / "kit", painted, DATE)
    assert [a.name for a in made if a.name.endswith(".png")] == ["two-gates-page-1.png"]
    assert (tmp_path / "kit" / "two-gates-page-1.png").read_bytes().startswith(b"picture of")


def test_an_unusual_tuning_is_told() -> None:
    assert tuning(LOWERED) == "D2 A2 D3 G3 B3 E4 (not the usual tuning, capo at fret 2)"
    arrangement = structs.replace(LESSON.arrangement, instrument=LOWERED)
    text = contents(structs.replace(LESSON, arrangement=arrangement), [], "0", DATE)
    assert "Tuning, string 6 to string 1: D2 A2 D3 G3 B3 E4 (not the usual" in text


def test_the_stamp_follows_the_music(press: Press) -> None:
    assert stamp(LESSON) == stamp(structs.replace(LESSON))
    assert stamp(LESSON) != stamp(structs.replace(LESSON, title="Three Gates"))
    assert len(stamp(LESSON)) == 12


def test_the_score_in_the_kit_is_musicxml(folder: Path) -> None:
    root = etree.parse(folder / "two-gates.musicxml").getroot()
    assert root.tag == "score-partwise"
    notes = [note for note in root.iter("note") if note.find("pitch") is not None]
    staves = {note.findtext("staff", "1") for note in notes}
    assert len(notes) == 2 * len(staves)
