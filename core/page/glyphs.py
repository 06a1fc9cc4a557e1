"""The glyphs the page uses, by their SMuFL names. Source: SMuFL 1.4, tables of code points."""

from __future__ import annotations

from core.model import Base, Note

CODES: dict[str, int] = {
    "gClef": 0xE050, "gClef8vb": 0xE052, "6stringTabClef": 0xE06D, "4stringTabClef": 0xE06E,
    "noteheadDoubleWhole": 0xE0A0, "noteheadWhole": 0xE0A2, "noteheadHalf": 0xE0A3,
    "noteheadBlack": 0xE0A4, "noteheadRoundWhite": 0xE114, "noteheadRoundWhiteWithDot": 0xE115,
    "noteheadRoundWhiteDoubleSlashed": 0xE11D,
    "noteAWhole": 0xE169, "noteBWhole": 0xE16C, "noteCWhole": 0xE16F, "noteDWhole": 0xE172,
    "noteEWhole": 0xE175, "noteFWhole": 0xE178, "noteGWhole": 0xE17B, "noteAHalf": 0xE180,
    "noteBHalf": 0xE183, "noteCHalf": 0xE186, "noteDHalf": 0xE189, "noteEHalf": 0xE18C,
    "noteFHalf": 0xE18F, "noteGHalf": 0xE192, "noteABlack": 0xE197, "noteBBlack": 0xE19A,
    "noteCBlack": 0xE19D, "noteDBlack": 0xE1A0, "noteEBlack": 0xE1A3, "noteFBlack": 0xE1A6,
    "noteGBlack": 0xE1A9, "noteEmptyWhole": 0xE1AD, "noteEmptyHalf": 0xE1AE,
    "noteEmptyBlack": 0xE1AF,
    "noteheadDiamondHalf": 0xE0D9, "noteheadDiamondBlack": 0xE0DB, "noteheadDiamondWhite": 0xE0DD,
    "restDoubleWhole": 0xE4E2, "restWhole": 0xE4E3, "restHalf": 0xE4E4, "restQuarter": 0xE4E5,
    "rest8th": 0xE4E6, "rest16th": 0xE4E7, "rest32nd": 0xE4E8, "rest64th": 0xE4E9,
    "rest128th": 0xE4EA, "restWholeLegerLine": 0xE4F4, "restHalfLegerLine": 0xE4F5,
    "flag8thUp": 0xE240, "flag8thDown": 0xE241, "flag16thUp": 0xE242, "flag16thDown": 0xE243,
    "flag32ndUp": 0xE244, "flag32ndDown": 0xE245, "flag64thUp": 0xE246, "flag64thDown": 0xE247,
    "flag128thUp": 0xE248, "flag128thDown": 0xE249,
    "accidentalFlat": 0xE260, "accidentalNatural": 0xE261, "accidentalSharp": 0xE262,
    "accidentalDoubleSharp": 0xE263, "accidentalDoubleFlat": 0xE264,
    "accidentalTripleSharp": 0xE265, "accidentalTripleFlat": 0xE266,
    "accidentalParensLeft": 0xE26A, "accidentalParensRight": 0xE26B,
    "accidentalBracketLeft": 0xE26C, "accidentalBracketRight": 0xE26D,
    "augmentationDot": 0xE1E7, "repeatDot": 0xE044, "segno": 0xE047, "coda": 0xE048,
    "timeSig0": 0xE080, "timeSig1": 0xE081, "timeSig2": 0xE082, "timeSig3": 0xE083,
    "timeSig4": 0xE084, "timeSig5": 0xE085, "timeSig6": 0xE086, "timeSig7": 0xE087,
    "timeSig8": 0xE088, "timeSig9": 0xE089, "timeSigCommon": 0xE08A, "timeSigCutCommon": 0xE08B,
    "timeSigPlus": 0xE08C,
    "fermataAbove": 0xE4C0, "fermataBelow": 0xE4C1,
    "fermataShortAbove": 0xE4C4, "fermataShortBelow": 0xE4C5,
    "fermataLongAbove": 0xE4C6, "fermataLongBelow": 0xE4C7,
    "articAccentAbove": 0xE4A0, "articAccentBelow": 0xE4A1, "articStaccatoAbove": 0xE4A2,
    "articStaccatoBelow": 0xE4A3, "articTenutoAbove": 0xE4A4, "articTenutoBelow": 0xE4A5,
    "articStaccatissimoAbove": 0xE4A6, "articStaccatissimoBelow": 0xE4A7,
    "articMarcatoAbove": 0xE4AC, "articMarcatoBelow": 0xE4AD,
    "breathMarkComma": 0xE4CE, "caesura": 0xE4D1,
    "dynamicPiano": 0xE520, "dynamicMezzo": 0xE521, "dynamicForte": 0xE522,
    "dynamicRinforzando": 0xE523, "dynamicSforzando": 0xE524, "dynamicZ": 0xE525,
    "dynamicNiente": 0xE526,
    "fingering0": 0xED10, "fingering1": 0xED11, "fingering2": 0xED12, "fingering3": 0xED13,
    "fingering4": 0xED14, "fingering5": 0xED15, "fingeringTUpper": 0xED16,
    "fingeringPLower": 0xED17, "fingeringILower": 0xED19, "fingeringMLower": 0xED1A,
    "fingeringALower": 0xED1B, "fingeringCLower": 0xED1C,
    "guitarString1": 0xE834, "guitarString2": 0xE835, "guitarString3": 0xE836,
    "guitarString4": 0xE837, "guitarString5": 0xE838, "guitarString6": 0xE839,
    "guitarString7": 0xE83A, "guitarString8": 0xE83B, "guitarString9": 0xE83C,
    "tuplet0": 0xE880, "tuplet1": 0xE881, "tuplet2": 0xE882, "tuplet3": 0xE883, "tuplet4": 0xE884,
    "tuplet5": 0xE885, "tuplet6": 0xE886, "tuplet7": 0xE887, "tuplet8": 0xE888, "tuplet9": 0xE889,
    "tupletColon": 0xE88A,
    "wiggleArpeggiatoUp": 0xEAA9, "wiggleArpeggiatoUpArrow": 0xEAAD,
    "wiggleArpeggiatoDown": 0xEAAA, "wiggleArpeggiatoDownArrow": 0xEAAE,
    "wiggleVibrato": 0xEAB0, "metNoteWhole": 0xECA2, "metNoteHalfUp": 0xECA3,
    "metNoteQuarterUp": 0xECA5, "metNote8thUp": 0xECA7, "metNote16thUp": 0xECA9,
    "metAugmentationDot": 0xECB7,
    "fretboardFilledCircle": 0xE858, "fretboardX": 0xE859, "fretboardO": 0xE85A,
}  # fmt: skip

FLAGS = {base: base.flags for base in Base}  # how many flags or beams a value carries

HEADS = {Base.BREVE: "noteheadDoubleWhole", Base.WHOLE: "noteheadWhole", Base.HALF: "noteheadHalf"}
# A pitch in waiting: a round hollow head, with a dot inside where a placed head would be filled.
WAITING = "noteheadRoundWhiteWithDot"
WAITING_HEADS = {
    Base.BREVE: "noteheadRoundWhiteDoubleSlashed",
    Base.WHOLE: "noteheadRoundWhite",
    Base.HALF: "noteheadRoundWhite",
}
RESTS = {
    Base.BREVE: "restDoubleWhole", Base.WHOLE: "restWhole", Base.HALF: "restHalf",
    Base.QUARTER: "restQuarter", Base.EIGHTH: "rest8th", Base.SIXTEENTH: "rest16th",
    Base.THIRTY_SECOND: "rest32nd", Base.SIXTY_FOURTH: "rest64th",
    Base.HUNDRED_TWENTY_EIGHTH: "rest128th",
}  # fmt: skip
ACCIDENTALS = {
    0: "accidentalNatural", 1: "accidentalSharp", 2: "accidentalDoubleSharp",
    3: "accidentalTripleSharp", -1: "accidentalFlat", -2: "accidentalDoubleFlat",
    -3: "accidentalTripleFlat",
}  # fmt: skip
MET_NOTES = {
    Base.WHOLE: "metNoteWhole", Base.HALF: "metNoteHalfUp", Base.QUARTER: "metNoteQuarterUp",
    Base.EIGHTH: "metNote8thUp", Base.SIXTEENTH: "metNote16thUp",
}  # fmt: skip
DYNAMICS = {
    "p": "dynamicPiano", "m": "dynamicMezzo", "f": "dynamicForte", "r": "dynamicRinforzando",
    "s": "dynamicSforzando", "z": "dynamicZ", "n": "dynamicNiente",
}  # fmt: skip
ARTICULATIONS = {
    "staccato": "articStaccato", "staccatissimo": "articStaccatissimo", "accent": "articAccent",
    "strong accent": "articMarcato", "tenuto": "articTenuto",
}  # fmt: skip
FINGERS = {
    "0": "fingering0", "1": "fingering1", "2": "fingering2", "3": "fingering3",
    "4": "fingering4", "T": "fingeringTUpper",
}  # fmt: skip
PLUCKS = {
    "p": "fingeringPLower", "i": "fingeringILower", "m": "fingeringMLower",
    "a": "fingeringALower", "c": "fingeringCLower",
}  # fmt: skip


def head_name(base: Base, *, placed: bool = True, harmonic: bool = False) -> str:
    """The notehead of a value: a diamond for a harmonic, a round hollow one without a place."""
    if harmonic:
        filled = FLAGS[base] or base is Base.QUARTER
        return "noteheadDiamondBlack" if filled else "noteheadDiamondWhite"
    if not placed:
        return WAITING_HEADS.get(base, WAITING)
    return HEADS.get(base, "noteheadBlack")


def flag_name(base: Base, up: bool) -> str:
    """The flag of an unbeamed value shorter than a quarter."""
    return f"flag{'8th' if base is Base.EIGHTH else base.value}{'Up' if up else 'Down'}"


_LETTERED = {Base.WHOLE: "Whole", Base.HALF: "Half"}


def lettered_name(note: Note, base: Base) -> str:
    """The head with its note's letter in it (SMuFL, "Note name noteheads"); empty where a note
    keeps its own head: diamonds, breves, and the open heads of notes without a place."""
    if note.harmonic is not None or note.place is None or base is Base.BREVE:
        return ""
    return f"note{note.pitch.step}{_LETTERED.get(base, 'Black')}"


def backing_name(head: str) -> str:
    """The full shape of a head with a letter: paper behind it, so that no line crosses the
    letter; empty for other heads."""
    return "" if head.startswith("notehead") else "noteEmpty" + head.removeprefix("note")[1:]
