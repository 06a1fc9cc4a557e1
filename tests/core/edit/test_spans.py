"""Lines and bows of every kind."""

from __future__ import annotations

import pytest
from msgspec import structs

from core.edit import AddSpan, AddTalk, ChangeSpan, RemoveSpan, add_span
from core.model import Barre, Lesson, Span
from core.model.form import NOTE_SPANS
from tests.core.edit.kit import do, event, ids, lesson, note, refused
from tests.strategies import SPAN_KINDS

ONE = lesson("E4s1f0:quarter G4s1f3:quarter C4s2f1:half | A2s5f0:whole", "E4s1f0:whole")


def ends(kind: str, of: Lesson = ONE) -> tuple[int, int]:
    if kind == "talk":
        return ids(of)[0], ids(of)[1]
    if kind in NOTE_SPANS:
        pair = note(of).id, note(of, 1).id
        return (pair[1], note(of, 0, 1).id) if kind == "pull-off" else pair
    return event(of).id, event(of, 0, 1).id


@pytest.mark.parametrize("kind", SPAN_KINDS)
def test_every_kind(kind: str) -> None:
    barre = Barre(1, 3) if kind == "barre" else None
    command = add_span(kind, *ends(kind), "words", barre)
    done = do(command, ONE)
    span = done.arrangement.spans[0]
    assert (span.kind, span.text, span.barre) == (kind, "words", barre)
    assert span.id == ONE.next_id
    assert "is already there" in refused(command, done)
    changed = do(ChangeSpan(structs.replace(span, text="other", optional=True)), done)
    assert changed.arrangement.spans[0].text == "other"
    assert do(ChangeSpan(span), done) is done
    assert do(RemoveSpan(span.id), done) == ONE
    assert "no longer there" in refused(RemoveSpan(span.id), ONE)


E0, E1, N0, N1, C4 = event(ONE).id, event(ONE, 1).id, note(ONE).id, note(ONE, 1).id, note(ONE, 2).id


@pytest.mark.parametrize(
    ("span", "why"),
    [
        (Span(0, "slur", E1, E0), "A slur cannot end before it begins;"),
        (Span(0, "slur", E0, E0), "A slur needs two different notes;"),
        (Span(0, "slur", E0, 999), "that is still there"),
        (Span(0, "hammer-on", N1, C4), "goes to a higher note"),
        (Span(0, "pull-off", N0, N1), "goes to a lower note"),
        (Span(0, "slide", N1, C4), "these notes, on strings 1 and 2"),
        (Span(0, "hammer-on", E0, E1), "reaches between notes"),
        (Span(0, "talk", E0, E1), "reaches between measures"),
        (Span(0, "barre", E0, E1), "needs its fret"),
        (Span(0, "barre", E0, E1, barre=Barre(1, 1)), "covers 2 to 6 strings"),
        (Span(0, "barre", E0, E1, barre=Barre(0, 3)), "covers 2 to 6 strings"),
        (Span(0, "barre", E0, E1, barre=Barre(1, 4, lowest=3)), "covers 2 to 6 strings"),
        (Span(0, "slur", E0, E1, barre=Barre(1)), "has no barre figures"),
        (Span(0, "wave", E0, E1), "is no line or bow"),
    ],
)
def test_lines_that_cannot_be(span: Span, why: str) -> None:
    assert why in refused(AddSpan(span), ONE)


def test_a_line_keeps_its_kind() -> None:
    done = do(add_span("slur", E0, E1), ONE)
    other = structs.replace(done.arrangement.spans[0], kind="phrase")
    assert "keeps its kind" in refused(ChangeSpan(other), done)


def test_talking_points() -> None:
    done = do(AddTalk(ids(ONE)[0], ids(ONE)[0], "The bass stays down"), ONE)
    assert done.arrangement.spans[0].text == "The bass stays down"
    assert "needs words" in refused(AddTalk(ids(ONE)[0], ids(ONE)[0], " "), ONE)
