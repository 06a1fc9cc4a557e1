"""What stands above a score: title, composer, credit, rights, source."""

from __future__ import annotations

from msgspec import structs

from core.formats.musicxml_container import Element
from core.formats.musicxml_names import SOFTWARE
from core.model import Key, Lesson, SourceCard

CARD_FIELDS = ("credit", "year", "notes")


def fill_stem(lesson: Lesson, root: Element, name: str) -> Lesson:
    """The lesson with its title and source card from the head of a file."""
    ours = {
        (field.get("name") or "").removeprefix("footstool:"): field.text or ""
        for field in root.iterfind("identification/miscellaneous/miscellaneous-field")
        if (field.get("name") or "").startswith("footstool:")
    }
    composer = _creator(root, "composer") or _creator(root, "arranger")
    card = SourceCard(
        composer=composer,
        credit=ours.get("credit", ""),
        year=ours.get("year", ""),
        edition=_text(root.findtext("identification/source")),
        rights="; ".join(
            filter(None, (_text(r.text) for r in root.iterfind("identification/rights")))
        ),
        notes=ours.get("notes", ""),
    )
    ours_file = any(
        (software.text or "").startswith(SOFTWARE)
        for software in root.iterfind("identification/encoding/software")
    )
    lesson = structs.replace(lesson, title=_title(root, name, ours_file), source=card)
    return _with_fields(lesson, ours)


def _with_fields(lesson: Lesson, fields: dict[str, str]) -> Lesson:
    """Measures of the guitar and the key of the piece, as this program writes them."""
    arrangement = lesson.arrangement
    measured: dict[str, object] = {}
    try:
        for field, kind in (("scale_mm", float), ("nut_mm", float), ("highest_fret", int)):
            if field in fields:
                measured[field] = kind(fields[field])
        if fields.get("hand") in ("left", "right"):
            measured["hand"] = fields["hand"]
        instrument = structs.replace(arrangement.instrument, **measured)
        key = Key.parse(fields["key"]) if "key" in fields else arrangement.key
    except ValueError:
        return lesson
    arrangement = structs.replace(arrangement, instrument=instrument, key=key)
    return structs.replace(lesson, arrangement=arrangement)


def _title(root: Element, name: str, ours: bool) -> str:
    work = _text(root.findtext("work/work-title"))
    movement = _text(root.findtext("movement-title"))
    if work and movement and work != movement:
        return f"{work}: {movement}"
    if work or movement or ours:
        return work or movement
    for credit in root.iterfind("credit"):
        if _text(credit.findtext("credit-type")) == "title":
            return _text(credit.findtext("credit-words"))
    return name.replace("\\", "/").rsplit("/", 1)[-1].rsplit(".", 1)[0]


def _creator(root: Element, kind: str) -> str:
    found = (
        _text(creator.text)
        for creator in root.iterfind("identification/creator")
        if creator.get("type", kind) == kind
    )
    return ", ".join(filter(None, found))


def _text(text: str | None) -> str:
    return (text or "").strip()
