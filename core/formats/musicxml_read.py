"""MusicXML 4.0 files (and older ones) made into lessons.

A single part becomes the arrangement with its voices; of several parts the highest becomes voice
1 and the lowest voice 2, and all are kept as the lesson's source. Fingers, strings and plucking of
the file are labels of origin ``source``. What a lesson cannot hold is counted in the report.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from core.formats.imported import Imported, Ledger, PartChoice, PartInfo, Report
from core.formats.musicxml_arrange import Arranger
from core.formats.musicxml_container import Element, root_of
from core.formats.musicxml_names import SOFTWARE
from core.formats.musicxml_raw import RawPart
from core.formats.musicxml_read_part import PartReader
from core.formats.musicxml_stem import fill_stem
from core.model.errors import BadInput
from core.model.validate import problems

Choose = Callable[[Sequence[PartInfo]], PartChoice]


def read(
    data: bytes,
    name: str,
    choose: Choose | PartChoice | None = None,
    octave: int | None = None,
) -> Imported:
    """Read a MusicXML file, plain or compressed; `name` begins the sentences about it.

    `choose` picks the parts that become melody and bass where there are several (the highest
    and the lowest without it); `octave` overrides how many octaves lead from the file's pitches
    to what sounds. Raises BadInput with one sentence: file, line, measure, what.
    """
    root = root_of(data, name)
    ledger = Ledger()
    ours = is_ours(root)
    parts = _read_parts(root, ledger, name, ours)
    arranger = Arranger(parts, ledger, name, octave, ours)
    lesson, infos, octaves = arranger.lesson(choose)
    lesson = fill_stem(lesson, root, name)
    found = problems(lesson)
    if found:
        raise BadInput(f"{name} cannot be made a lesson: {found[0].sentence.rstrip('.')}.")
    return Imported(lesson, Report(infos, octaves, ledger.findings()))


def is_ours(root: Element) -> bool:
    """Whether this program wrote the file."""
    for software in root.iterfind("identification/encoding/software"):
        if (software.text or "").startswith(SOFTWARE):
            return True
    return False


def _read_parts(root: Element, ledger: Ledger, name: str, ours: bool) -> list[RawPart]:
    listed = {entry.get("id", ""): entry for entry in root.iterfind("part-list/score-part")}
    parts: list[RawPart] = []
    for index, element in enumerate(root.iterfind("part")):
        part_id = element.get("id", "")
        part = _part(index, part_id, listed.get(part_id))
        PartReader(part, ledger, name, ours).read(element)
        parts.append(part)
    return parts


def _part(index: int, part_id: str, entry: Element | None) -> RawPart:
    title = "" if entry is None else " ".join((entry.findtext("part-name") or "").split())
    program = None if entry is None else entry.findtext("midi-instrument/midi-program")
    sound = "" if entry is None else entry.findtext("score-instrument/instrument-sound") or ""
    known = program is not None and re.fullmatch(r"\s*\d{1,3}\s*", program)
    return RawPart(
        index, part_id, title or f"Part {index + 1}",
        int(program) if known and program else None, sound.strip(),
    )  # fmt: skip
