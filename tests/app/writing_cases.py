"""What every key that writes notes, rhythm and fingers does to the music and to the caret."""

from __future__ import annotations

from tests.app.case import EMPTY, FULL, PENCIL, TUNE, Case

M1, M2, M3 = TUNE
UPPER, C3 = M1.split(" | ")
HIGH = ("E4s2f5:half F4s2f6:half",)
SHORT = ("E4s1f0:quarter F4s1f1:quarter",)
TIED = ("E4s1f0:half~ E4s1f0:half",)
FOUR_DOWN = "Down Down Down Down"
# Frets on the fourth string: D3 and what lies above it, spelled as in C (common practice).
LOW = ("D3", "Eb3", "E3", "F3", "F#3", "G3", "Ab3", "A3", "Bb3", "B3")


def melody(text: str) -> tuple[str, ...]:
    """The tune with another melody in its first measure."""
    return (f"{text} | {C3}", M2, M3)


def bass(text: str) -> tuple[str, ...]:
    """The tune with another bass in its first measure."""
    return (f"{UPPER} | {text}", M2, M3)


# fmt: off
FRETS = tuple(
    Case(f"fret-{fret}", "PutFret", "Down Down Down", "1 0 s4",
         melody(f"{low}s4f{fret}+{UPPER}"), "1 0 s4")
    for fret, low in enumerate(LOW)
)

ENTRY = (
    Case("fret-3", "PutFret", "", "1 0 s1",
         melody("G4s1f3:quarter F4s1f1!1:quarter G4s1f3:half"), "1 0 s1", about="over a note"),
    Case("fret-3", "PutFret", "", "1 0 s1",
         ("G4s1f3:quarter",), "1 1 s1", EMPTY, about="where the voice goes on"),
    Case("fret-3", "Together InsertMeasures PutFret", "End Right", "1 4 s1",
         (*FULL, "G4s1f3:half"), "2 2 s1", FULL, about="behind the end of the piece"),
    Case("fret-3", "PutFret", "Ins Right", "1 1 s1",
         melody("E4s1f0:quarter G4s1f3:quarter F4s1f1!1:quarter G4s1f3:half"), "1 2 s1",
         about="put in"),
    Case("fret-3", "PutFret", "V Ctrl+End Right Down Down", "3 2 s3 v1",
         (M1, M2, f"{M3} | r:half Bb3s3f3:quarter"), "3 3 s3 v1", about="in the bass"),
    Case("fret-ten", "PutFret", "", "1 0 s1",
         melody("E5s1f12:quarter F4s1f1!1:quarter G4s1f3:half"), "1 0 s1", then="2"),
    Case("add-pitch", "AddPitch", "", "1 0 s1",
         melody(f"C4+{UPPER}"), "1 0 s1", then="C", about="to a chord"),
    Case("add-pitch", "AddPitch", "", "1 0 s1",
         ("A3:quarter",), "1 1 s1", EMPTY, then="A", about="where the voice goes on"),
    Case("add-pitch", "AddPitch", "Ins Right", "1 1 s1",
         melody("E4s1f0:quarter A4:quarter F4s1f1!1:quarter G4s1f3:half"), "1 2 s1", then="A",
         about="put in"),
    Case("rest", "TurnToRest", "Right", "1 1 s1",
         melody("E4s1f0:quarter r:quarter G4s1f3:half"), "1 1 s1", about="of a note"),
    Case("rest", "InsertRest", "", "1 0 s1",
         ("r:quarter",), "1 1 s1", EMPTY, about="where the voice goes on"),
    Case("rest", "InsertRest", "Ins Right", "1 1 s1",
         melody("E4s1f0:quarter r:quarter F4s1f1!1:quarter G4s1f3:half"), "1 2 s1",
         about="put in"),
    Case("rest", "Together InsertMeasures InsertRest", "End Right", "1 4 s1",
         (*FULL, "r:half"), "2 2 s1", FULL, about="behind the end of the piece"),
)

RHYTHM = (
    Case("value-whole", "SetValue", "", "1 0 s1", melody("E4s1f0:whole"), "1 0 s1"),
    Case("value-half", "SetValue", "", "1 0 s1", melody("E4s1f0:half G4s1f3:half"), "1 0 s1"),
    Case("value-quarter", "SetValue", "Right Right", "1 2 s1",
         melody("E4s1f0:quarter F4s1f1!1:quarter G4s1f3:quarter r:quarter"), "1 2 s1"),
    Case("value-eighth", "SetValue", "Right", "1 1 s1",
         melody("E4s1f0:quarter F4s1f1!1:eighth r:eighth G4s1f3:half"), "1 1 s1"),
    Case("value-16th", "SetValue", "Right", "1 1 s1",
         melody("E4s1f0:quarter F4s1f1!1:16th r:16th r:eighth G4s1f3:half"), "1 1 s1"),
    Case("value-32nd", "SetValue", "Right", "1 1 s1",
         melody("E4s1f0:quarter F4s1f1!1:32nd r:32nd r:16th r:eighth G4s1f3:half"), "1 1 s1"),
    Case("dot", "ToggleDot", "", "1 0 s1",
         melody("E4s1f0:quarter. r:eighth G4s1f3:half"), "1 0 s1"),
    Case("dot", "ToggleDot", FOUR_DOWN, "1 0 s5",
         bass("C3s5f3:whole."), "1 0 s5", about="over the barline"),
    Case("triplet", "MakeTuplet", "", "1 0 s1",
         melody("E4s1f0:eighth@3:2 r:eighth@3:2 r:eighth@3:2 F4s1f1!1:quarter G4s1f3:half"),
         "1 0 s1"),
    Case("triplet", "DropTuplet", "U Right Right", "1 2/3 s1",
         melody(UPPER), "1 0 s1", about="dropped from its last part"),
    Case("tuplet", "MakeTuplet", "Right", "1 1 s1",
         melody(f"E4s1f0:quarter F4s1f1!1:16th@5:4{' r:16th@5:4' * 4} G4s1f3:half"), "1 1 s1",
         answer="5:4"),
    Case("tie", "SetTie", "Right 0 Left", "1 0 s1",
         melody("E4s1f0:quarter~ E4s1f0:quarter G4s1f3:half"), "1 0 s1"),
    Case("tie", "SetTie", "", "1 0 s1",
         ("E4s1f0:half E4s1f0:half",), "1 0 s1", TIED, about="taken off"),
    Case("tie", "HoldOn", "End Right", "1 2 s1",
         ("E4s1f0:quarter F4s1f1:quarter~ F4s1f1:quarter",), "1 3 s1", SHORT,
         about="held on where the voice goes on"),
    Case("tie", "Together InsertMeasures HoldOn", "End Right", "1 4 s1",
         ("E4s1f0:half F4s1f1:half~", "F4s1f1:half"), "2 2 s1", FULL,
         about="held on over the barline"),
    Case("fermata", "ToggleFermata", "End Right", "1 2 s1",
         ("E4s1f0:quarter F4s1f1:quarter^",), "1 2 s1", SHORT, about="where the voice goes on"),
    Case("fermata", "ToggleFermata", "", "1 0 s1",
         (f"E4s1f0:quarter^ F4s1f1!1:quarter G4s1f3:half | {C3}^", M2, M3), "1 0 s1"),
    Case("delete", "DeleteNote", "Right", "1 1 s1",
         melody("E4s1f0:quarter r:quarter G4s1f3:half"), "1 1 s1"),
    Case("delete", "DeleteNote", "Ctrl+Up Down", "1 0 n1",
         bass("r:whole"), "1 0 n0", about="the lower note on the staff"),
    Case("delete", "DeleteEvent", "Right R", "1 1 s1",
         melody("E4s1f0:quarter G4s1f3:half"), "1 1 s1", about="a rest"),
    Case("delete", "ClearSelection", "Right Shift+Right", "1 2 s1",
         melody("E4s1f0:quarter r:quarter G4s1f3:half"), "1 2 s1", about="a selection"),
    Case("close-up", "DeleteEvent", "Right", "1 1 s1",
         melody("E4s1f0:quarter G4s1f3:half"), "1 1 s1"),
    Case("close-up", "DeleteEvent", "End Right", "1 2 s1",
         ("E4s1f0:quarter",), "1 1 s1", SHORT, about="the event before"),
    Case("close-up", "ClearSelection", "Right Shift+Right", "1 2 s1",
         melody("E4s1f0:quarter G4s1f3:half"), "1 1 s1", about="a selection"),
)

LAST = "E4s1f0:quarter F4s1f1!1:quarter G4s1f3!{}:half"

HAND = (
    Case("finger-0", "SetFinger", "Ctrl+Up", "1 0 n0",
         melody("E4s1f0!0:quarter F4s1f1!1:quarter G4s1f3:half"), "1 0 n1 v1"),
    Case("finger-1", "SetFinger", "Ctrl+Up Right Right", "1 2 n0",
         melody(LAST.format(1)), "2 0 n0"),
    Case("finger-2", "SetFinger", "Ctrl+Up Right Right", "1 2 n0",
         melody(LAST.format(2)), "2 0 n0"),
    Case("finger-3", "SetFinger", "Ctrl+Up Down", "1 0 n1",
         bass("C3s5f3!3:whole"), "1 2 n0", about="of the bass"),
    Case("finger-4", "SetFinger", "Ctrl+Up Right Right", "1 2 n0",
         melody(LAST.format(4)), "2 0 n0"),
    Case("thumb", "SetFinger", FOUR_DOWN, "1 0 s5", bass("C3s5f3!T:whole"), "1 0 s5"),
    Case("no-finger", "SetFinger", "Right", "1 1 s1",
         melody("E4s1f0:quarter F4s1f1:quarter G4s1f3:half"), "1 1 s1"),
    Case("open-figures", "FigureOpenStrings", "Right", "1 1 s1",
         melody("E4s1f0!0:quarter F4s1f1!1:quarter G4s1f3:half"), "1 1 s1"),
    Case("pin", "PinSuggestion", "Ctrl+Up Right", "1 1 n0",
         ("E4s1f0?:quarter G4s1f3:quarter A4s1f5?:half",), "1 1 n0", PENCIL),
    Case("pin-measure", "PinMeasure", "Right", "1 1 s1",
         ("E4s1f0:quarter G4s1f3:quarter A4s1f5:half",), "1 1 s1", PENCIL),
    Case("string-down", "MoveToString", "Right", "1 1 s1",
         melody("E4s1f0:quarter F4s2f6!1:quarter G4s1f3:half"), "1 1 s2"),
    Case("string-up", "MoveToString", "", "1 0 s2",
         ("E4s1f0:half F4s2f6:half",), "1 0 s1", HIGH),
    Case("string-down", "MoveStrings", "A Shift+V", "1 0 s1",
         melody("E4s2f5:quarter F4s2f6!1:quarter G4s2f8:half"), "1 0 s2",
         about="a selection: the caret stays on its note"),
    Case("string-up", "MoveStrings", "Shift+Right Shift+Right", "1 4 s2",
         ("E4s1f0:half F4s1f1:half",), "1 4 s2", HIGH, about="a selection"),
    Case("raise", "SetPitch", "Right", "1 1 s1",
         melody("E4s1f0:quarter F#4s1f2!1:quarter G4s1f3:half"), "1 1 s1"),
    Case("raise", "Transpose", "Shift+Right", "1 1 s1",
         ("F4s1f1:quarter F4s1f1!1:quarter G4s1f3:half | Db3s5f4:whole", M2, M3), "1 1 s1",
         about="a selection"),
    Case("lower", "SetPitch", "", "1 0 s1",
         melody("Eb4:quarter F4s1f1!1:quarter G4s1f3:half"), "1 0 n0",
         about="off its string, to be met on the staff"),
    Case("octave-up", "SetPitch", "", "1 0 s1",
         melody("E5s1f12:quarter F4s1f1!1:quarter G4s1f3:half"), "1 0 s1"),
    Case("octave-down", "SetPitch", "Ctrl+Up Right Right", "1 2 n0",
         melody("E4s1f0:quarter F4s1f1!1:quarter G3:half"), "1 2 n0"),
    Case("octave-down", "Transpose", "Ctrl+Right Right Shift+Right", "3 0 s1",
         (M1, "A4:half C4:half | A2:whole", M3), "3 0 s1", about="a selection"),
    Case("step-up", "SetPitch", "Ctrl+Up Right", "1 1 n0",
         melody("E4s1f0:quarter G4s1f3!1:quarter G4s1f3:half"), "1 1 n0"),
    Case("step-down", "SetPitch", FOUR_DOWN, "1 0 s5", bass("B2s5f2:whole"), "1 0 s5"),
    Case("step-down", "Transpose", "A", "1 0 s1",
         ("D4:quarter E4s1f0:quarter F4s1f1:half | B2s5f2:whole", M2, M3), "1 0 n0",
         about="a selection: the caret stays on its note"),
)
# fmt: on

WRITING = (*FRETS, *ENTRY, *RHYTHM, *HAND)
