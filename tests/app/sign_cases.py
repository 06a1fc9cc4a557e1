"""What every word of the sign line does to the music, the lines and the piece, and to the caret."""

from __future__ import annotations

from typing import Any

from tests.app.case import PENCIL, TUNE, Case

M1, M2, M3 = TUNE
FOUR_DOWN = "Down Down Down Down"
CHORD = ("C3s5f3+E3s4f2+G3s3f0:half E4s1f0:half",)
LEGATO = ("E4s1f0:quarter F4s1f1:quarter E4s1f0:half | C3s5f3:whole",)
REST = ("r:half E4s1f0:half | C3s5f3:half r:half",)


def sign(
    words: str, commands: str, walk: str = "", start: str = "1 0 s1",
    music: tuple[str, ...] = TUNE, end: str = "", **more: Any,
) -> Case:  # fmt: skip
    """The case of words typed into the sign line."""
    return Case("sign", commands, walk, start, music, end or start, answer=words, **more)


def first(text: str) -> tuple[str, ...]:
    """The tune with another first measure."""
    return text, M2, M3


def headed(text: str) -> tuple[str, ...]:
    """The tune with signs of the first measure."""
    return first(f"[{text}] {M1}")


def marked(**signs: str) -> tuple[str, ...]:
    """The tune with signs at the E, F, G or C (bass) of its first measure, or at their notes."""
    texts = ("E4s1f0", "quarter"), ("F4s1f1!1", "quarter"), ("G4s1f3", "half"), ("C3s5f3", "whole")
    events = []
    for name, (note, value) in zip("efgc", texts, strict=True):
        on_note = signs.get(f"{name}_note", "")
        braces = f"{{{on_note}}}" if on_note else ""
        events.append(f"{note}{braces}:{value}{signs.get(name, '')}")
    return first(f"{' '.join(events[:3])} | {events[3]}")


# fmt: off
EVENTS = (
    sign("staccato", "SetMark", music=marked(e="{staccato}")),
    sign("staccato", "Together SetMark SetMark SetMark", "Shift+Right Shift+Right", "1 2 s1",
         music=marked(e="{staccato}", f="{staccato}", c="{staccato}"), about="over a selection"),
    sign("staccato", "SetMark", before=("staccato",), about="off"),
    sign("staccatissimo", "SetMark", music=marked(e="{staccatissimo}")),
    sign("accent", "SetMark", "Right", "1 1 s1", music=marked(f="{accent}")),
    sign("strong accent", "SetMark", music=marked(e="{strong accent}")),
    sign("tenuto", "SetMark", FOUR_DOWN, "1 0 s5", music=marked(c="{tenuto}")),
    sign("vibrato", "SetMark", music=marked(e="{vibrato}")),
    sign("damp", "SetMark", "Ctrl+End Left", "3 2 s1",
         music=(M1, M2, "E4s1f0:half D4s2f3:half{damp}")),
    sign("pppp", "SetMark", music=marked(e="{pppp}")),
    sign("ppp", "SetMark", music=marked(e="{ppp}")),
    sign("pp", "SetMark", music=marked(e="{pp}")),
    sign("p", "SetMark", music=marked(e="{p}")),
    sign("mp", "SetMark", music=marked(e="{mp}")),
    sign("mf", "SetMark", music=marked(e="{mf}")),
    sign("f", "SetMark", music=marked(e="{f}")),
    sign("ff", "SetMark", music=marked(e="{ff}")),
    sign("fff", "SetMark", music=marked(e="{fff}")),
    sign("ffff", "SetMark", music=marked(e="{ffff}")),
    sign("sf", "SetMark", music=marked(e="{sf}")),
    sign("sfz", "SetMark", music=marked(e="{sfz}")),
    sign("fp", "SetMark", music=marked(e="{fp}")),
    sign("rf", "SetMark", music=marked(e="{rf}")),
    sign("p", "SetMark", "A", music=marked(e="{p}"), before=("mf",),
         about="in place of another, where the selection begins"),
    sign("no dynamic", "SetMark", before=("mf",)),
    sign("arpeggio", "SetMark", "Down Down", "1 0 s5", of=CHORD,
         music=("C3s5f3+E3s4f2+G3s3f0:half{arpeggio} E4s1f0:half",)),
    sign("arpeggio up", "SetMark", "Down Down", "1 0 s5", of=CHORD,
         music=("C3s5f3+E3s4f2+G3s3f0:half{arpeggio up} E4s1f0:half",)),
    sign("arpeggio down", "SetMark", "Down Down", "1 0 s5", of=CHORD,
         music=("C3s5f3+E3s4f2+G3s3f0:half{arpeggio down} E4s1f0:half",)),
    sign("roll", "SetMark", "Down Down", "1 0 s5", of=CHORD,
         music=("C3s5f3+E3s4f2+G3s3f0:half{roll} E4s1f0:half",)),
    sign("no arpeggio", "SetMark", "Down Down", "1 0 s5", of=CHORD, music=CHORD, before=("roll",)),
    sign("pause", "ToggleFermata", music=marked(e="^", c="^")),
    sign("pause long once", "ToggleFermata", "Right Right", "1 2 s1",
         music=marked(g="^{square once}")),
    sign("pause short", "Together ToggleFermata ToggleFermata",
         music=marked(e="^{angled}", c="^{angled}"), before=("pause",),
         about="in place of another"),
    sign("no pause", "Together SetMark SetMark", before=("pause",)),
    sign("comma", "SetMark", music=marked(e="{comma}")),
    sign("caesura", "SetMark", "A", music=marked(g="{caesura}"), before=("comma",),
         about="after what is selected"),
    sign("hide rest", "HideRest", start="1 0 s5", of=REST,
         music=("r:half{hidden} E4s1f0:half | C3s5f3:half r:half",)),
    sign("hide rest", "HideRest", start="1 0 s5", of=REST, music=REST, before=("hide rest",),
         about="shown again"),
    sign("rest height -2", "HideRest", "Right", "1 2 s5", of=REST,
         music=("r:half E4s1f0:half | C3s5f3:half r:half{height -2}",)),
)

NOTES = (
    sign("let ring", "SetNoteSign", music=marked(e_note="let ring")),
    sign("circle", "SetNoteSign", "Right", "1 1 s1", music=marked(f_note="circled")),
    sign("guide", "SetNoteSign", "Right", "1 1 s1", music=marked(f_note="guide")),
    sign("small", "SetNoteSign", music=marked(e_note="small")),
    sign("let ring", "Together SetNoteSign SetNoteSign SetNoteSign", "A Shift+V",
         music=marked(e_note="let ring", f_note="let ring", g_note="let ring"),
         about="over the melody"),
    sign("no let ring", "SetNoteSign", before=("let ring",)),
    sign("courtesy", "SetAccidental", "Right", "1 1 s1", music=marked(f_note="courtesy")),
    sign("editorial", "SetAccidental", "Right", "1 1 s1", music=marked(f_note="editorial")),
    sign("hidden accidental", "SetAccidental", "Right", "1 1 s1", music=marked(f_note="hidden")),
    sign("usual accidental", "SetAccidental", "Right", "1 1 s1", before=("courtesy",)),
    sign("grace E4", "Together AddGrace SetPlace", "Right", "1 1 s1", music=first(
             "E4s1f0:quarter (E4s1f0:eighth) F4s1f1!1:quarter G4s1f3:half | C3s5f3:whole")),
    sign("grace s1f3", "Together AddGrace SetPlace", "Right", "1 1 s1", music=first(
             "E4s1f0:quarter (G4s1f3:eighth) F4s1f1!1:quarter G4s1f3:half | C3s5f3:whole")),
    sign("no grace", "DeleteEvent", "Right", "1 1 s1", before=("grace E4",)),
    sign("pluck p", "SetPlucking", FOUR_DOWN, "1 0 s5", music=marked(c_note="pluck p")),
    sign("pluck im", "Together SetPlucking SetPlucking SetPlucking", "A Shift+V",
         music=marked(e_note="pluck i", f_note="pluck m", g_note="pluck i"), about="in turn"),
    sign("no pluck", "SetPlucking", FOUR_DOWN, "1 0 s5", before=("pluck p",)),
    sign("harmonic 12", "SetHarmonic",
         music=first("E5s1f0{natural 12}:quarter F4s1f1!1:quarter G4s1f3:half | C3s5f3:whole")),
    sign("artificial harmonic", "SetHarmonic", "Right", "1 1 s1",
         music=first("E4s1f0:quarter F5s1f1!1{artificial 13}:quarter G4s1f3:half | C3s5f3:whole")),
    sign("no harmonic", "SetHarmonic", "Right", "1 1 s1", before=("artificial harmonic",)),
    sign("bend 1/2", "SetBend", "Right Right", "1 2 s1", music=marked(g_note="bend 0.5")),
    sign("no bend", "SetBend", "Right Right", "1 2 s1", before=("bend 1",)),
    sign("change to 3", "SetSubstitute", "Right", "1 1 s1", music=marked(f_note="change to 3")),
    sign("no change", "SetSubstitute", "Right", "1 1 s1", before=("change to 3",)),
    sign("or 4 s2f6 keeps the bass", "SetAlternative", "Right", "1 1 s1",
         music=marked(f_note="or 4 s2f6 keeps the bass")),
    sign("exchange alternative", "ExchangeAlternative", "Right", "1 1 s1", music=first(
         "E4s1f0:quarter F4s2f6!4{or 1 s1f1 keeps the bass}:quarter G4s1f3:half | C3s5f3:whole"),
         end="1 1 s2", before=("or 4 s2f6 keeps the bass",)),
    sign("no alternative", "SetAlternative", "Right", "1 1 s1", before=("or 2",)),
    sign("no suggestion", "RefuseSuggestion", "Ctrl+Up Right", "1 1 n0", of=PENCIL,
         music=("E4s1f0?:quarter G4:quarter A4s1f5?:half",)),
)

LINES = (
    sign("slur", "AddSpan", "Shift+Right Shift+Right Shift+Right", "2 0 s1",
         lines="slur 1 0 to 1 2"),
    sign("slur", "AddSpan", about="to the next note", lines="slur 1 0 to 1 1"),
    sign("slur", "RemoveSpan", before=("slur",), about="off"),
    sign("slur", "AddSpan", FOUR_DOWN, "1 0 s5", about="of the bass",
         lines="slur 1 0 v1 to 2 0 v1"),
    sign("no slur", "RemoveSpan", "Right", "1 1 s1", before=("slur",)),
    sign("phrase", "AddSpan", "A", lines="phrase 1 0 to 1 2"),
    sign("hammer-on", "AddSpan", of=LEGATO, music=LEGATO, lines="hammer-on 1 0 E4 to 1 1 F4"),
    sign("pull-off", "AddSpan", "Right", "1 1 s1", of=LEGATO, music=LEGATO,
         lines="pull-off 1 1 F4 to 1 2 E4"),
    sign("slide", "AddSpan", "Right", "1 1 s1", of=LEGATO, music=LEGATO,
         lines="slide 1 1 F4 to 1 2 E4"),
    sign("crescendo", "AddSpan", "A A", lines="crescendo 1 0 to 2 2"),
    sign("diminuendo", "AddSpan", "A", lines="diminuendo 1 0 to 1 2"),
    sign("no slide", "RemoveSpan", of=LEGATO, music=LEGATO, before=("slide",)),
    sign("string line", "AddSpan", "A", lines="string 1 0 E4 to 1 2 G4"),
    sign("let ring line", "AddSpan", "A", lines="let ring 1 0 to 1 2"),
    sign("vibrato line", "AddSpan", "Right", "1 1 s1", lines="vibrato 1 1 to 1 2"),
    sign("rit line", "AddSpan", "A", lines="tempo rit. 1 0 to 1 2"),
    sign("accel line", "AddSpan", "A", lines="tempo accel. 1 0 to 1 2"),
    sign("dotted slur", "AddSpan", lines="dotted slur 1 0 to 1 1"),
    sign("dotted slur", "ChangeSpan", before=("slur",), about="in place of a plain one",
         lines="dotted slur 1 0 to 1 1"),
    sign("barre 2", "AddSpan", "Right", "1 1 s1", lines="barre 2 over 6 1 1 to 1 1"),
    sign("half barre 2 4 strings", "AddSpan", "A", lines="barre 2 over 4 1 0 to 1 2"),
    sign("hinge barre 2", "ChangeSpan", before=("barre 2",),
         lines="dotted barre 2 over 6 1 0 to 1 0"),
    sign("half barre 1 3 from 5", "ChangeSpan", before=("barre 2",), about="in place of another",
         lines="barre 1 over 3 from 5 1 0 to 1 0"),
    sign("no barre", "RemoveSpan", before=("barre 2",)),
    sign("say Listen to the bass", "AddTalk", "A A", lines="talk Listen to the bass 1 to 2"),
    sign("change talk to Wait for it", "ChangeSpan", "Right", "1 1 s1", before=("say Listen",),
         lines="talk Wait for it 1 to 1"),
    sign("no talk", "RemoveSpan", before=("say Listen",)),
)

MEASURES = (
    sign("chord Am x02310", "AddMeasureMark", music=headed("chord Am x02310")),
    sign("chord F 133211 134211", "AddMeasureMark", "Right Right", "1 2 s1",
         music=headed("chord F 133211 134211 barre 1 6-1 at 2")),
    sign("no chord", "RemoveMeasureMark", "Ctrl+Right", "2 0 s1", before=("chord Am x02310",)),
    sign("chord D x-x-12-14-15-14", "AddMeasureMark", music=headed("chord D xx12141514 from 12")),
    sign("text dolce", "AddMeasureMark", music=headed("text dolce")),
    sign("text below dolce", "AddMeasureMark", "Right", "1 1 s1",
         music=headed("text below dolce at 1")),
    sign("change text to cantabile", "ChangeMeasureMark", "Right", "1 1 s1",
         music=headed("text cantabile at 1"), before=("text dolce",)),
    sign("no text", "RemoveMeasureMark", "Right", "1 1 s1", before=("text dolce",)),
    sign("position 5", "AddMeasureMark", "Right Right", "1 2 s1", music=headed("position 5 at 2")),
    sign("position 5", "RemoveMeasureMark", before=("position V",),
         about="off, written as a numeral"),
    sign("tempo Andante dotted quarter = 72", "AddMeasureMark",
         music=headed("tempo Andante quarter. 72")),
    sign("tempo 96", "AddMeasureMark", "Right", "1 1 s1", music=headed("tempo quarter 96 at 1")),
    sign("slower", "AddMeasureMark", "Right", "1 1 s1", music=headed("tempo rit. (slower) at 1")),
    sign("faster", "AddMeasureMark", "Right", "1 1 s1", music=headed("tempo accel. (faster) at 1"),
         before=("slower",), about="in place of another"),
    sign("a tempo", "AddMeasureMark", "Ctrl+Right", "2 0 s1",
         music=(M1, f"[tempo a tempo (a tempo)] {M2}", M3)),
    sign("no tempo", "RemoveMeasureMark", before=("slower",)),
    sign("single barline", "SetBarline", music=headed("single barline")),
    sign("double barline", "SetBarline", "A A", music=(M1, f"[double barline] {M2}", M3),
         about="after what is selected"),
    sign("final barline", "SetBarline", music=headed("final barline")),
    sign("dashed barline", "SetBarline", music=headed("dashed barline")),
    sign("invisible barline", "SetBarline", music=headed("none barline")),
    sign("usual barline", "SetBarline", before=("double barline",)),
    sign("line break", "SetLineBreak", music=headed("line break")),
    sign("no line break", "SetLineBreak", before=("line break",)),
    sign("segno", "SetSign", "Right", "1 1 s1", music=headed("segno")),
    sign("coda", "SetSign", "Right", "1 1 s1", music=headed("coda")),
    sign("fine", "SetSign", "Right", "1 1 s1", music=headed("fine")),
    sign("to coda", "SetSign", "Right", "1 1 s1", music=headed("to coda")),
    sign("dc", "SetSign", "Right", "1 1 s1", music=headed("dc")),
    sign("dc al fine", "SetSign", "Right", "1 1 s1", music=headed("dc al fine")),
    sign("dc al coda", "SetSign", "Right", "1 1 s1", music=headed("dc al coda")),
    sign("ds", "SetSign", "Right", "1 1 s1", music=headed("ds")),
    sign("ds al fine", "SetSign", "Right", "1 1 s1", music=headed("ds al fine")),
    sign("ds al coda", "SetSign", "Right", "1 1 s1", music=headed("ds al coda")),
    sign("no segno", "SetSign", before=("segno",)),
    sign("D.C. al Fine", "SetSign", "Right", "1 1 s1", music=headed("dc al fine"), before=("dc",),
         about="in place of another"),
    sign("empty measure", "EmptyMeasure", "Right", "1 1 s1", music=first(""), end="1 0 s1"),
    sign("keep as easier", "KeepOtherVersion", music=headed(f"easier: {M1}")),
    sign("keep as harder", "KeepOtherVersion", music=headed(f"harder: {M1}")),
    sign("keep as second time", "KeepOtherVersion", music=headed(f"second time: {M1}")),
    sign("exchange easier", "ExchangeVersion", music=headed("easier: "),
         before=("keep as easier", "empty measure")),
    sign("exchange harder", "ExchangeVersion", music=headed("harder: "),
         before=("keep as harder", "empty measure")),
    sign("exchange second time", "ExchangeVersion", music=headed("second time: "),
         before=("keep as second time", "empty measure")),
    sign("drop easier", "DropVersion", before=("keep as easier",)),
    sign("drop harder", "DropVersion", before=("keep as harder",)),
    sign("drop second time", "DropVersion", before=("keep as second time",)),
)

PIECE = (
    sign("ending 1,2", "SetEnding", "Ctrl+Right", "2 0 s1", form="A 2 x2 (1,2: 2-2), B 1"),
    sign("open ending 2", "SetEnding", "A A", form="A 2 x2 (2 open: 1-2), B 1"),
    sign("no ending", "RemoveEnding", "Ctrl+Right", "2 0 s1", before=("ending 1",),
         form="A 2, B 1"),
    sign("ending 1", "RemoveEnding", "Ctrl+Right", "2 0 s1", before=("ending 1",), about="off",
         form="A 2, B 1"),
    sign("move section before", "MoveSection", "Ctrl+End Left", "3 2 s1", music=(M3, M1, M2),
         end="1 2 s1", form="B 1, A 2"),
    sign("move section after", "MoveSection", music=(M3, M1, M2), end="2 0 s1", form="B 1, A 2"),
    sign("goal tempo 54", "SetTempo", piece="quarter 54"),
    sign("goal tempo dotted quarter 54", "SetTempo", "Right", "1 1 s1", piece="quarter. 54"),
    sign("capo 2", "SetInstrument", "Right", "1 1 s1",
         music=("F#4s1f0:quarter G4s1f1!1:quarter A4s1f3:half | D3s5f3:whole",
                "A4:half D5s1f8:half | A2:whole",
                "F#4s1f0:half E4s2f3:half"),
         piece="capo 2"),
    sign("no capo", "SetInstrument", before=("capo 2",)),
    sign("tuning D A D G B E", "SetInstrument", piece="D2 A2 D3 G3 B3 E4"),
    sign("usual tuning", "SetInstrument", before=("tuning D A D G B E",)),
    sign("scale 630", "SetInstrument", piece="630 mm"),
    sign("left-handed guitar", "SetInstrument", piece="left-handed"),
    sign("right-handed guitar", "SetInstrument", before=("left-handed guitar",)),
    sign("clef with 8", "SetClef", before=("plain clef",)),
    sign("plain clef", "SetClef", piece="plain clef"),
    sign("credit Trad.", "SetCredit", piece="Trad."),
    sign("no credit", "SetCredit", before=("credit Trad.",)),
    sign("main key A minor", "SetMainKey", piece="A minor"),
)
# fmt: on

SIGNS = (*EVENTS, *NOTES, *LINES, *MEASURES, *PIECE)
