"""From the bytes of a MusicXML file to the root of a part-wise score, safely.

Suffixes do not matter: a zip archive is an ``.mxl`` by its content. Entities are refused, nothing
is fetched, and depth, sizes and the number of measures are limited before any music is read.
"""

from __future__ import annotations

import io
import zipfile
import zlib

from lxml import etree

from core.model.errors import BadInput

MOST_BYTES = 64 * 1024 * 1024
MOST_ARCHIVE_BYTES = 16 * 1024 * 1024
MOST_ARCHIVE_MEMBERS = 1000
MOST_CONTAINER_BYTES = 64 * 1024
MOST_MEASURES = 5000
MOST_PARTS = 120
MOST_ELEMENTS = 3_000_000

Element = etree._Element


def root_of(data: bytes, name: str) -> Element:
    """The ``score-partwise`` root of a file's bytes; raises BadInput with one sentence."""
    if data[:4] == b"PK\x03\x04":
        data = _unpacked(data, name)
    root = _parsed(data, name)
    if root.tag == "score-timewise":
        root = _partwise(root)
    if root.tag != "score-partwise":
        raise BadInput(f"{name} is not a MusicXML score: it begins with <{root.tag}>.")
    _check_size(root, name)
    return root


def _unpacked(data: bytes, name: str) -> bytes:
    """The score inside an ``.mxl`` archive."""
    if len(data) > MOST_ARCHIVE_BYTES:
        raise BadInput(f"{name} is larger than a compressed score can be (16 MiB).")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            names = archive.namelist()
            if len(names) > MOST_ARCHIVE_MEMBERS:
                raise BadInput(f"{name} holds {len(names)} files; that is no score.")
            return _member(archive, _score_name(archive, names, name), MOST_BYTES, name)
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, OSError, ValueError) as error:
        # RuntimeError: encrypted members; NotImplementedError, a subclass: unknown compression
        raise BadInput(f"{name} is a damaged archive and cannot be unpacked.") from error


def _score_name(archive: zipfile.ZipFile, names: list[str], name: str) -> str:
    if "META-INF/container.xml" in names:
        packed = _member(archive, "META-INF/container.xml", MOST_CONTAINER_BYTES, name)
        for file in _parsed(packed, f"{name} (META-INF/container.xml)").iter("{*}rootfile"):
            kind = file.get("media-type", "")
            if kind in ("", "application/vnd.recordare.musicxml+xml", "text/xml") and (
                file.get("full-path") in names
            ):
                return str(file.get("full-path"))
    for candidate in names:
        if candidate.lower().endswith((".musicxml", ".xml")) and "META-INF" not in candidate:
            return candidate
    raise BadInput(f"{name} is an archive without a MusicXML score in it.")


def _member(archive: zipfile.ZipFile, member: str, limit: int, name: str) -> bytes:
    """A member's bytes, never more than `limit` of them, whatever its header claims."""
    with archive.open(member) as stream:
        data = stream.read(limit + 1)
    if len(data) > limit:
        raise BadInput(f"{name} unpacks to more than {limit // 1024} KiB; that is no score.")
    return data


def _parsed(data: bytes, name: str) -> Element:
    if len(data) > MOST_BYTES:
        raise BadInput(f"{name} is larger than a score can be (64 MiB).")
    if not data.strip():
        raise BadInput(f"{name} is empty.")
    if any("<!ENTITY".encode(code) in data for code in ("ascii", "utf-16-le", "utf-16-be")):
        raise BadInput(f"{name} declares entities, which a score never needs; it is not opened.")
    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False,
        remove_comments=True, remove_pis=True,
    )  # fmt: skip
    try:
        root = etree.fromstring(data, parser)
    except etree.XMLSyntaxError as error:
        if not _looks_like_xml(data):
            raise BadInput(f"{name} is not a MusicXML score; it holds something else.") from error
        what = str(error.msg or "no XML").split(", line ")[0].rstrip(".")
        raise BadInput(
            f"{name} is damaged at line {error.lineno} and cannot be opened; get the file again, "
            f"or have the program that made it write it anew ({what})."
        ) from error
    except ValueError as error:
        raise BadInput(f"{name} is not a MusicXML score; it holds something else.") from error
    if _has_entities(root):
        raise BadInput(f"{name} uses entities, which a score never needs; it is not opened.")
    if root.tag[:1] == "{" and not root.tag.endswith("}container"):
        for element in root.iter("{*}*"):
            element.tag = element.tag.rpartition("}")[2]
    return root


def _looks_like_xml(data: bytes) -> bool:
    """Whether the first sign is ``<``, in one byte or two, after a byte order mark."""
    return data.lstrip(b"\xef\xbb\xbf\xff\xfe\x00 \t\r\n")[:1] == b"<"


def _has_entities(root: Element) -> bool:
    """Whether an entity was declared, or used without a declaration, in whatever encoding."""
    declared = root.getroottree().docinfo.internalDTD
    if declared is not None and any(declared.iterentities()):  # type: ignore[attr-defined]
        return True
    return next(root.iter(etree.Entity), None) is not None


def _partwise(root: Element) -> Element:
    """A time-wise score turned around: the same elements, parts outside, measures inside."""
    root.tag = "score-partwise"
    parts: dict[str, Element] = {}
    for measure in root.findall("measure"):
        for piece in measure.findall("part"):
            part_id = piece.get("id", "")
            if part_id not in parts:
                parts[part_id] = etree.Element("part", id=part_id)
            piece.tag = "measure"
            del piece.attrib["id"]
            piece.attrib.update(measure.attrib)
            parts[part_id].append(piece)
        root.remove(measure)
    root.extend(list(parts.values()))
    return root


def _check_size(root: Element, name: str) -> None:
    parts = root.findall("part")
    if not any(part.find("measure") is not None for part in parts):
        raise BadInput(f"{name} has no part with music in it.")
    if len(parts) > MOST_PARTS:
        raise BadInput(f"{name} has {len(parts)} parts; at most {MOST_PARTS} can be read.")
    measures = max(len(part.findall("measure")) for part in parts)
    if measures > MOST_MEASURES:
        raise BadInput(
            f"{name} has {measures} measures; at most {MOST_MEASURES} can be read. Split the file."
        )
    total = sum(1 for _ in root.iter())
    if total > MOST_ELEMENTS:
        raise BadInput(f"{name} has more content than can be read ({total} elements).")
