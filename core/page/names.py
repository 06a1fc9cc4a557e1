"""Note names for beginners: letters in the heads, or a row of names above or below the staff.

Letters stand in the enlarged heads that SMuFL has for them (1.4, "Note name noteheads"). Syllables
do not fit into a head at a readable size, so they stand in a row: of the melody and other upper
voices over the staff, of the bass under it. A chord's names are stacked as its heads are.
"""

from __future__ import annotations

from collections.abc import Sequence

from core.display.items import Face
from core.model import Key, Pitch
from core.model.pitch import STEPS
from core.page.cluster import CENTRE, Cluster
from core.page.metrics import Metrics
from core.page.moment import Draft
from core.page.style import Names, PageStyle

SIZE = 1.75  # em of a name in spaces: about 8 point on a staff of 6.6 mm
ABOVE_Y, BELOW_Y = -60.0, -50.0  # heights, far from any figure, at which names keep each other off

SIGNS = {-3: "♭𝄫", -2: "𝄫", -1: "♭", 0: "", 1: "♯", 2: "𝄪", 3: "♯𝄪"}
# Fixed do, the note names of the Romance languages (common practice, no source).
FIXED = ("do", "re", "mi", "fa", "sol", "la", "si")
# Movable do (common practice, no source): of each step of the major scale its own syllable, the
# one when it is raised and the one when it is lowered. A minor key has its keynote on la.
MOVABLE = (
    ("do", "di", ""), ("re", "ri", "ra"), ("mi", "", "me"), ("fa", "fi", ""),
    ("so", "si", "se"), ("la", "li", "le"), ("ti", "", "te"),
)  # fmt: skip


def name_of(pitch: Pitch, key: Key, how: Names) -> str:
    """What a written note is called: ``F♯``, ``fa♯``, or its syllable in the key."""
    if how == "fixed do":
        return FIXED[STEPS.index(pitch.step)] + SIGNS[pitch.alter]
    if how == "movable do":
        return _movable(pitch, key)
    return pitch.step + SIGNS[pitch.alter]


def _movable(pitch: Pitch, key: Key) -> str:
    """The syllable against the major key of the same signature; with an accidental where the
    scale of syllables has none."""
    major = Key(key.fifths)
    degree = (STEPS.index(pitch.step) - STEPS.index(major.tonic[0])) % 7
    off = pitch.alter - key.alter_of(pitch.step)
    plain, raised, lowered = MOVABLE[degree]
    named = {0: plain, 1: raised, -1: lowered}.get(off, "")
    return named or plain + SIGNS.get(off, "")


def in_row(style: PageStyle) -> bool:
    """Whether names stand in a row: always, but for letters where there are heads to hold them."""
    return style.names != "" and not (style.names == "letters" and style.staff)


def above(cluster: Cluster) -> bool:
    """Upper voices have their names above, lower voices below."""
    return cluster.voice % 2 == 0


def named(
    clusters: Sequence[Cluster], held: frozenset[int], key: Key, style: PageStyle
) -> dict[bool, list[tuple[Pitch, str, int]]]:
    """The names of one moment by side (True: above), highest first; none for held notes."""
    sides: dict[bool, list[tuple[Pitch, str, int]]] = {True: [], False: []}
    for cluster in clusters:
        if cluster.beside:
            continue
        for head in cluster.heads:
            if head.note.id not in held:
                pitch = head.note.pitch
                entry = (pitch, name_of(pitch, key, style.names), head.note.id)
                sides[above(cluster)].append(entry)
    for row in sides.values():
        row.sort(key=lambda entry: -entry[0].diatonic)
    return sides


def reserve(draft: Draft, clusters: Sequence[Cluster], held: frozenset[int], key: Key) -> None:
    """Room for the names of one moment, so that those of neighbours never meet."""
    if not in_row(draft.style):
        return
    size = em(draft.style)
    for up, row in named(clusters, held, key, draft.style).items():
        half = max((width(draft.m, words, size) for _, words, _ in row), default=0.0) / 2
        if half:
            y = ABOVE_Y if up else BELOW_Y
            draft.tab_rods.append((CENTRE - half - 0.2, y, CENTRE + half + 0.2, y + 1))


def em(style: PageStyle) -> float:
    """The em of names in spaces: they grow with the small signs."""
    return SIZE * style.sign_size


def width(m: Metrics, words: str, size: float) -> float:
    """The width of a name in spaces."""
    return m.text_width(words, Face.SANS) * size
