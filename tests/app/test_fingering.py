"""``footstool finger``."""

from __future__ import annotations

import json
from pathlib import Path

from app.main import main
from core.model import walk
from core.store import load, save
from tests import build


def lesson_file(folder: Path, *measures: str) -> Path:
    path = folder / "tune.footstool"
    save(build.lesson(measures), path)
    return path


def test_places_and_fingers_are_suggested(tmp_path, capsys):
    source = lesson_file(tmp_path, "C4:quarter D4:quarter E4:half | C3:whole")
    target = tmp_path / "out.footstool"
    assert main(["finger", str(source), str(target), "--level", "1"]) == 0
    notes = [n for m in walk.measures(load(target).arrangement) for _, n in walk.notes(m)]
    assert all(note.place and note.finger and not note.place.firm for note in notes)
    assert "onsets fingered" in capsys.readouterr().out


def test_json_has_the_figures(tmp_path, capsys):
    source = lesson_file(tmp_path, "C4:quarter D4:quarter E4:half | C3:whole")
    assert main(["finger", str(source), str(tmp_path / "o.mid"), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["format"] == "footstool.finger/1"
    assert told["onsets"] == 3
    assert told["unplayable"] == []
    assert abs(sum(told["by_feature"].values()) - told["cost"]) < 1e-4


def test_what_cannot_be_played_is_named_and_exits_1(tmp_path, capsys):
    source = lesson_file(tmp_path, "r:half F2:half | A4:whole")
    target = tmp_path / "out.footstool"
    assert main(["finger", str(source), str(target)]) == 1
    told = capsys.readouterr().err
    assert "measure 1: no hand can have together: A4 held, F2." in told
    assert "rings 2 of its 4 quarters" in told
    assert target.exists()


def test_bad_options_are_refused_before_anything_is_read(tmp_path, capsys):
    source = lesson_file(tmp_path, "C4:whole")
    assert main(["finger", str(source), str(tmp_path / "o.footstool"), "--hand", "9"]) == 2
    assert "six spans" in capsys.readouterr().err
    assert main(["finger", str(source), str(tmp_path / "o.zip")]) == 2
    empty = lesson_file(tmp_path, "r:whole")
    assert main(["finger", str(empty), str(tmp_path / "o.footstool")]) == 2
    assert "no notes to finger" in capsys.readouterr().err
