"""What every key for voices, measures, the clipboard and the source does, and to the caret."""

from __future__ import annotations

from tests.app.case import SOURCE, TUNE, Case

M1, M2, M3 = TUNE
UPPER, C3 = M1.split(" | ")
OVER = ("E4s1f0:whole F4s1f1:half",)
PAIR = ("E4s1f0:half", "F4s1f1:half")

# fmt: off
CLIPBOARD = (
    Case("cut", "ClearSelection", "Right Shift+Right", "1 2 s1",
         (f"E4s1f0:quarter r:quarter G4s1f3:half | {C3}", M2, M3), "1 1 s1"),
    Case("paste", "Together Paste", "Shift+Right Shift+V Ctrl+C Esc Ctrl+Right", "2 0 s1",
         (M1, "E4s1f0:quarter r:quarter C5s1f8:half | A2:whole", M3), "2 1 s1"),
    Case("paste", "Together InsertMeasures Paste", "A Ctrl+C End Ctrl+End", "3 4 s1",
         (*TUNE, M1), "4 4 s1", about="behind the end of the piece"),
    Case("paste-in", "Together Paste", "Shift+Right Shift+V Ctrl+C Esc Ctrl+Right", "2 0 s1",
         (M1, "E4s1f0:quarter A4:half C5s1f8:half | A2:whole", M3), "2 1 s1"),
)

VOICES = (
    Case("other-voice", "MoveToVoice", "Ctrl+End Left", "3 2 s1",
         (M1, M2, "E4s1f0:half r:half | r:half D4s2f3:half"), "3 2 s1 v1"),
    Case("measure-swap", "Together SwapVoices", "Right", "1 1 s1",
         (f"{C3} | {UPPER}", M2, M3), "1 1 s1"),
    Case("measure-swap", "Together SwapVoices SwapVoices", "A A", "1 0 s1",
         (f"{C3} | {UPPER}", "A2:whole | A4:half C5s1f8:half", M3), "1 0 s1", about="selected"),
)

MEASURES = (
    Case("measure-add", "InsertMeasures", "Right", "1 1 s1", (M1, "", M2, M3), "2 0 s1"),
    Case("measure-add-before", "InsertMeasures", "Ctrl+Right Right", "2 2 s1",
         (M1, "", M2, M3), "2 0 s1"),
    Case("measure-repeat", "RepeatMeasure", "Right", "1 1 s1",
         (M1, f"[same as 1] {M1}", M2, M3), "2 0 s1"),
    Case("measure-repeat", "CopyMeasures", "A A", "1 0 s1",
         (M1, M2, f"[same as 1] {M1}", f"[same as 2] {M2}", M3), "3 0 s1", about="selected"),
    Case("measure-again", "Together CopyMeasures", "Ctrl+End Left", "3 2 s1",
         (M1, M2, M3, f"[same as 1] {M1}", f"[same as 2] {M2}"), "5 4 s1", answer="1-2"),
    Case("measure-again", "Together CopyMeasures DeleteMeasures", "Ctrl+Right M", "3 0 s1",
         (M1, M2, f"[same as 1] {M1}", M3), "4 0 s1", answer="1",
         about="in place of an empty measure"),
    Case("measure-same", "Together SameAs", "Ctrl+End Left", "3 2 s1",
         (M1, M2, f"[same as 1] {M1}"), "3 2 s1", answer="1"),
    Case("measure-delete", "DeleteMeasures", "Right", "1 1 s1", (M2, M3), "1 0 s1"),
    Case("measure-delete", "DeleteMeasures", "Ctrl+End Left Down", "3 2 s2", (M1, M2), "2 0 s2",
         about="the last"),
    Case("measure-delete", "DeleteMeasures", "Shift+Right Ctrl+Shift+Right Shift+Right",
         "2 2 s1", (M3,), "1 0 s1", about="selected"),
    Case("measure-complete", "CompleteMeasure", "Right Backspace", "1 1 s1",
         (f"E4s1f0:quarter G4s1f3:half r:quarter | {C3}", M2, M3), "1 1 s1", about="short"),
    Case("measure-complete", "TrimMeasure", "End", "1 4 s1",
         ("E4s1f0:whole",), "1 4 s1", OVER, about="over-full"),
    Case("measure-split", "SplitMeasure", "Right Down", "1 1 s2",
         ("[1/4 long] E4s1f0:quarter | C3s5f3:quarter~",
          "[3/4 long, no number] F4s1f1!1:quarter G4s1f3:half | C3s5f3:half.", M2, M3), "2 0 s2"),
    Case("measure-join", "JoinMeasures", "Right", "1 1 s1",
         (f"[2 long] {UPPER} A4:half C5s1f8:half | {C3} A2:whole", M3), "1 1 s1"),
    Case("measure-head", "Together SetMetre SetKey", "Ctrl+Right Right", "2 2 s1",
         (M1, f"[3/4, D minor] {M2}", f"[3/4, D minor] {M3}"), "2 2 s1", answer="3/4 D minor"),
    Case("measure-length", "Together SetOwnLength SetCounted", "Right", "1 1 s1",
         (f"[1/4 long, no number] {M1}", M2, M3), "1 1 s1", answer="1/4"),
    Case("measure-section", "SplitSection", "Ctrl+Right Right", "2 2 s1",
         TUNE, "2 2 s1", form="A 1, 1, B 1"),
)

FROM_SOURCE = (
    Case("source-take", "TakeFromSource", "", "1 0 s1",
         ("C5:half G5:half", "E4s1f0:whole"), "2 0 s1", SOURCE),
    Case("source-take", "TakeFromSource", "Ctrl+Right V Shift+D", "2 0 s1 v1",
         ("", "E4s1f0:whole | D4:whole"), "2 4 s1 v1", SOURCE, about="into the bass"),
)
# fmt: on

DRAFTING = (*CLIPBOARD, *VOICES, *MEASURES, *FROM_SOURCE)
