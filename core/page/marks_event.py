"""Signs of single events: articulations, fermatas, plucking letters, circled strings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from core.display.items import Face, Role
from core.model import Articulation, Fermata, Note
from core.page import fingering, pen, rows
from core.page.cluster import Cluster
from core.page.draft import Draft, EventAt
from core.page.glyphs import ARTICULATIONS

_FERMATAS = {"normal": "fermata", "angled": "fermataShort", "square": "fermataLong"}
LETTER_SIZE = 1.6


def placed(draft: Draft) -> Iterator[tuple[Cluster, EventAt]]:
    """Every event that is drawn, with where it stands."""
    for box in draft.row:
        for cluster in box.clusters:
            at = draft.events.get(cluster.event.id)
            if at is not None:
                yield cluster, at


def draw_articulations(draft: Draft) -> None:
    """Signs close to the head, away from the stem; outside in two voices."""
    for cluster, at in placed(draft):
        for mark in cluster.event.marks:
            if isinstance(mark, Articulation) and mark.kind in ARTICULATIONS and cluster.heads:
                _articulation(draft, cluster, at, ARTICULATIONS[mark.kind])
            elif isinstance(mark, Articulation):
                words = {"vibrato": "vib.", "damp": "damp"}.get(mark.kind, mark.kind)
                rows.words_over(draft, words, at.x, size=1.6, anchor=0.5, source=cluster.event.id)


def _articulation(draft: Draft, cluster: Cluster, at: EventAt, name: str) -> None:
    above = cluster.up if not cluster.free else not cluster.up
    name += "Above" if above else "Below"
    rows.put_glyph(draft, name, at.x, above=above, source=cluster.event.id, pad=0.3)


def draw_fermatas(draft: Draft) -> None:
    """Fermatas outside everything of their voice."""
    for cluster, at in placed(draft):
        for mark in cluster.event.marks:
            if isinstance(mark, Fermata):
                above = not mark.inverted and (cluster.free or cluster.up)
                name = _FERMATAS[mark.shape] + ("Above" if above else "Below")
                rows.put_glyph(draft, name, at.x, above=above, source=cluster.event.id)
                if mark.last_time_only:
                    rows.words_over(draft, "last time only", at.x, size=1.4, anchor=0.5)


def draw_fingers_outside(draft: Draft) -> None:
    """The fingers of crowded events, outwards in the order of their notes: see
    `core.page.fingering`."""
    out = {number for box in draft.row for column in box.columns for number in column.outside}
    for box in draft.row if out else ():
        for cluster in box.clusters:
            at = draft.events.get(cluster.event.id)
            if at is not None and cluster.event.id in out:
                above = not cluster.up if cluster.free else cluster.up
                heads = cluster.heads if above else cluster.heads[::-1]
                notes = [h.note for h in heads if h.note.id not in box.held]
                _stack(draft, notes, at, above=above)


def _stack(draft: Draft, notes: Sequence[Note], at: EventAt, *, above: bool) -> None:
    """Figures one over (or under) the other, the first one nearest."""
    height, pad = 1.2 * draft.style.sign_size, 0.25
    for note in notes:
        if not fingering.seen(draft.style, note):
            continue
        drawn = fingering.figure(draft.m, draft.style, note)
        half = drawn.width / 2
        left, right = min(at.x - half, at.left), max(at.x + half, at.right)
        room = rows.over if above else rows.under
        edge = room(draft, left, right, height, pad)
        y = edge - height / 2 if above else edge + height / 2
        draft.items += [pen.moved(item, at.x + half, y) for item in drawn.items]
        pad = 0.05


def draw_plucking(draft: Draft) -> None:
    """p i m a on the stem side: above stems that go up, below stems that go down."""
    if not draft.style.show_fingers:
        return
    for cluster, at in placed(draft):
        heads = cluster.heads if cluster.up else cluster.heads[::-1]
        for head in heads:
            label = head.note.plucking
            if label is None or not (label.firm or draft.style.show_suggested):
                continue
            _letter(draft, head.note, _stem_side(cluster, at), up=cluster.up)


def _stem_side(cluster: Cluster, at: EventAt) -> float:
    """Where a letter stands: over (or under) the stem, so that beams keep it outside."""
    if not cluster.stemmed:
        return at.x
    return at.right - 0.1 if cluster.up else at.left + 0.1


def _letter(draft: Draft, note: Note, x: float, *, up: bool) -> None:
    """Upright where pinned, light italic where suggested; dynamics alone are bold italics."""
    label = note.plucking
    assert label is not None
    face = Face.SERIF if label.firm else Face.SERIF_ITALIC
    role = Role.PINNED if label.firm else Role.SUGGESTED
    size = LETTER_SIZE * draft.style.sign_size
    left, words = x - draft.m.text_width(label.value.value, face) * size / 2, label.value.value
    wide = 2 * (x - left)
    tall = 0.72 * size
    hang = 0.24 * size if words == "p" else 0.02
    if up:
        y = rows.over(draft, left, left + wide, tall + hang, 0.25) - hang
    else:
        y = rows.under(draft, left, left + wide, tall + hang, 0.25) + tall
        draft.letters.append((left, left + wide))
    draft.items.append(pen.text(draft.m, words, face, size, left, y, role, note.id))


def draw_circled(draft: Draft) -> None:
    """Circled string numbers below their notes (above where the stem goes down alone)."""
    if not draft.style.show_fingers:
        return
    for cluster, at in placed(draft):
        for head in cluster.heads[::-1]:
            note = head.note
            if not note.circled or note.place is None:
                continue
            name = f"guitarString{min(note.place.value.string, 9)}"
            above = cluster.up and not cluster.free
            size = 0.68 * draft.style.sign_size
            rows.put_glyph(draft, name, at.x, above=above, size=size, role=Role.PINNED,
                           source=note.id)  # fmt: skip


def draw_notes_words(draft: Draft) -> None:
    """Words of single notes: artificial harmonics, bends, the second finger of a substitution."""
    for cluster, at in placed(draft):
        for head in cluster.heads:
            note = head.note
            if note.harmonic is not None:
                words = "harm." if note.harmonic.kind == "natural" else "art. harm."
                words += f" {rows.roman(note.harmonic.touched_fret)}"
                rows.words_over(draft, words, at.left, size=1.5, source=note.id)
            if note.bend is not None:
                amount = "½" if note.bend == 0.5 else f"{note.bend:g}"
                rows.words_over(draft, f"bend {amount}", at.left, face=Face.SERIF_ITALIC, size=1.5,
                                source=note.id)  # fmt: skip
