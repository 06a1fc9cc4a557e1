"""Names of MusicXML 4.0 and of the trade side by side; both the reader and the writer use them.

What the standard has no element for is written in ``other-direction`` and ``other-notation``
elements with ``print-object="no"``, whose text is ``footstool``, one of `OUR_WORDS`, and a JSON
object. Other programs ignore them; the printed side (words, brackets, dashes) is written as well.
"""

from __future__ import annotations

import re

import msgspec

SOFTWARE = "Footstool"

OUR_WORDS = {
    "section": "a section begins: title, letter",
    "span": "a line above the music begins or ends: kind, number, text, barre, ...",
    "measure": "the measure's meant length, where its content does not say it",
    "position": "a position numeral: fret",
    "tempo": "what words do to the tempo: text, effect",
    "sign": "a sign of the road map: kind, text",
    "text": "free text",
    "version": "other music for the measure: purpose, voices",
    "chord": "a chord shape whose figures the frame cannot hold",
    "note": "guide finger, circled string, second fingering, harmonic, hidden accidental",
    "event": "fermata in playback, roll, nested tuplets",
    "line": "what kind of slur or line has this number: kind, text, optional, hidden",
}

ARTICULATIONS = {
    "staccato": "staccato",
    "staccatissimo": "staccatissimo",
    "accent": "accent",
    "strong-accent": "strong accent",
    "tenuto": "tenuto",
}

ACCIDENTAL_ALTERS = {
    "natural": 0, "sharp": 1, "flat": -1, "double-sharp": 2, "sharp-sharp": 2,
    "flat-flat": -2, "double-flat": -2, "triple-sharp": 3, "triple-flat": -3,
    "natural-sharp": 1, "natural-flat": -1,
}  # fmt: skip
ALTER_ACCIDENTALS = {
    0: "natural", 1: "sharp", -1: "flat", 2: "double-sharp", -2: "flat-flat",
    3: "triple-sharp", -3: "triple-flat",
}  # fmt: skip

BARLINES = {
    "regular": "single",
    "light-light": "double",
    "light-heavy": "final",
    "dashed": "dashed",
    "none": "none",
}
NEAR_BARLINES = {
    "dotted": "dashed", "heavy": "final", "heavy-light": "double", "heavy-heavy": "final",
    "tick": "single", "short": "single",
}  # fmt: skip

FERMATA_SHAPES = {
    "": "normal", "normal": "normal", "angled": "angled", "square": "square",
    "double-angled": "angled", "double-square": "square", "double-dot": "normal",
    "half-curve": "normal", "curlew": "normal",
}  # fmt: skip

_DYNAMICS_WORDS = (
    "p pp ppp pppp ppppp pppppp f ff fff ffff fffff ffffff mp mf sf sfp sfpp fp rf rfz sfz "
    "sffz fz n pf sfzp"
)
DYNAMICS = frozenset(_DYNAMICS_WORDS.split())

# Elements that only shape the page or the sound of one program: they need no remark.
_SILENT_WORDS = (
    "stem beam notehead-text instrument print-style link bookmark grouping listening listen "
    "play level footnote staff duration voice type dot accidental time-modification chord "
    "pitch rest unpitched grace cue tie notations lyric notehead accidental-mark swing offset"
)
SILENT = frozenset(_SILENT_WORDS.split())

# What is left out, as the trade calls it: element -> (one, many).
LEFT_OUT = {
    "trill-mark": ("trill", "trills"),
    "turn": ("turn", "turns"),
    "inverted-turn": ("turn", "turns"),
    "delayed-turn": ("turn", "turns"),
    "delayed-inverted-turn": ("turn", "turns"),
    "vertical-turn": ("turn", "turns"),
    "inverted-vertical-turn": ("turn", "turns"),
    "mordent": ("mordent", "mordents"),
    "inverted-mordent": ("mordent", "mordents"),
    "shake": ("shake", "shakes"),
    "schleifer": ("slide ornament", "slide ornaments"),
    "haydn": ("ornament", "ornaments"),
    "other-ornament": ("ornament", "ornaments"),
    "tremolo": ("tremolo", "tremolos"),
    "wavy-line": ("trill line", "trill lines"),
    "accidental-mark": ("accidental of an ornament", "accidentals of ornaments"),
    "up-bow": ("bowing", "bowings"),
    "down-bow": ("bowing", "bowings"),
    "thumb-position": ("thumb position", "thumb positions"),
    "double-tongue": ("tonguing", "tonguings"),
    "triple-tongue": ("tonguing", "tonguings"),
    "stopped": ("stopping sign", "stopping signs"),
    "open": ("stopping sign", "stopping signs"),
    "half-muted": ("stopping sign", "stopping signs"),
    "snap-pizzicato": ("snap pizzicato", "snap pizzicatos"),
    "tap": ("tap", "taps"),
    "heel": ("pedal mark", "pedal marks"),
    "toe": ("pedal mark", "pedal marks"),
    "fingernails": ("fingernail sign", "fingernail signs"),
    "hole": ("hole sign", "hole signs"),
    "arrow": ("arrow", "arrows"),
    "handbell": ("handbell sign", "handbell signs"),
    "brass-bend": ("brass sign", "brass signs"),
    "flip": ("brass sign", "brass signs"),
    "smear": ("brass sign", "brass signs"),
    "golpe": ("golpe", "golpes"),
    "other-technical": ("playing sign", "playing signs"),
    "detached-legato": ("detached legato", "detached legatos"),
    "spiccato": ("spiccato", "spiccatos"),
    "scoop": ("scoop", "scoops"),
    "plop": ("plop", "plops"),
    "doit": ("doit", "doits"),
    "falloff": ("falloff", "falloffs"),
    "stress": ("stress mark", "stress marks"),
    "unstress": ("stress mark", "stress marks"),
    "soft-accent": ("soft accent", "soft accents"),
    "other-articulation": ("articulation", "articulations"),
    "non-arpeggiate": ("bracket against breaking a chord", "brackets against breaking a chord"),
    "other-notation": ("sign", "signs"),
    "pedal": ("pedal mark", "pedal marks"),
    "octave-shift": ("octave line (pitches kept)", "octave lines (pitches kept)"),
    "harp-pedals": ("harp pedal diagram", "harp pedal diagrams"),
    "eyeglasses": ("eyeglasses sign", "eyeglasses signs"),
    "string-mute": ("mute sign", "mute signs"),
    "scordatura": ("scordatura", "scordaturas"),
    "image": ("image", "images"),
    "principal-voice": ("principal voice sign", "principal voice signs"),
    "percussion": ("percussion sign", "percussion signs"),
    "accordion-registration": ("accordion registration", "accordion registrations"),
    "staff-divide": ("staff division", "staff divisions"),
    "other-direction": ("direction", "directions"),
    "symbol": ("symbol", "symbols"),
    "figured-bass": ("figured bass sign", "figured bass signs"),
    "measure-style": ("measure style", "measure styles"),
    "slash": ("slash passage", "slash passages"),
    "measure-repeat": ("measure repeat sign", "measure repeat signs"),
    "beat-repeat": ("beat repeat sign", "beat repeat signs"),
    "notehead": ("special notehead", "special noteheads"),
}


def left_out_name(tag: str) -> tuple[str, str]:
    """What the trade calls an element, for one and for many."""
    plain = tag.replace("-", " ")
    return LEFT_OUT.get(tag, (plain, plain + "s"))


SLOWER = re.compile(r"\b(rit|riten|ritard|rall|allarg|slow|calando|smorz|meno)", re.IGNORECASE)
FASTER = re.compile(r"\b(accel|string|stretto|pi[uù] mosso|faster)", re.IGNORECASE)
A_TEMPO = re.compile(r"\b(a tempo|tempo i\b|tempo primo|tempo 1)", re.IGNORECASE)
LOUDER = re.compile(r"\bcresc", re.IGNORECASE)
SOFTER = re.compile(r"\b(dim|decresc)", re.IGNORECASE)
LET_RING = re.compile(r"\b(let ring|l\.\s?v\.|lasciar vibrare)", re.IGNORECASE)
VIBRATO = re.compile(r"^vib", re.IGNORECASE)
BARRE = re.compile(r"(?P<half>1/2|½|¢)?\s*[CB]?\.?\s*(?P<fret>[IVX]+|\d{1,2})")
BARRE_WORDS = re.compile(r"(?:(?:1/2|½)\s*[CB]|[CB]|¢)\.?\s*(?:[IVX]+|\d{1,2})")
ROMAN = re.compile(r"[IVX]{1,5}\.?")
FINE = re.compile(r"^\W*fine\W*$", re.IGNORECASE)
TO_CODA = re.compile(r"^\W*(to|al|alla)\s+(the\s+)?coda\b", re.IGNORECASE)
DA_CAPO = re.compile(r"^\W*(d\.\s?c\.|dc\b|da\s+capo)", re.IGNORECASE)
DAL_SEGNO = re.compile(r"^\W*(d\.\s?s\.|ds\b|dal\s+segno|del\s+segno)", re.IGNORECASE)
GUITAR = re.compile(r"guit|gtr|gitar|chitarra|kitara|violão|nylon", re.IGNORECASE)
PIANO = re.compile(r"piano|klavier|keyboard|organ|orgel|harpsichord|cembalo", re.IGNORECASE)
BASS_GUITAR = re.compile(r"\bbass", re.IGNORECASE)

_NUMERALS = (
    "", "I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X", "XI", "XII", "XIII", "XIV",
    "XV", "XVI", "XVII", "XVIII", "XIX", "XX", "XXI", "XXII", "XXIII", "XXIV",
)  # fmt: skip


def numeral(number: int) -> str:
    """A fret as a Roman numeral; plain figures beyond the neck."""
    return _NUMERALS[number] if 0 < number < len(_NUMERALS) else str(number)


def from_numeral(text: str) -> int | None:
    """The fret of a Roman (or plain) numeral up to XXIV."""
    text = text.rstrip(".")
    if text.isdecimal():
        return int(text)
    return _NUMERALS.index(text) if text in _NUMERALS[1:] else None


def our_text(word: str, content: object) -> str:
    """The text of an element of ours; `content` is plain values."""
    return f"footstool {word} {msgspec.json.encode(content, order='sorted').decode()}"


def read_our_text(text: str) -> tuple[str, dict[str, object]] | None:
    """The word and content of an element of ours, or None if it is not one (or damaged)."""
    pieces = text.strip().split(" ", 2)
    if len(pieces) != 3 or pieces[0] != "footstool" or pieces[1] not in OUR_WORDS:
        return None
    try:
        return pieces[1], msgspec.json.decode(pieces[2], type=dict[str, object])
    except (msgspec.DecodeError, RecursionError):
        return None
