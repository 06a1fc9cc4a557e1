"""The table of sign words: what each means, how it is written, and how it is taken off.

One row drives the parser, the list that opens under the line, and what a refusal proposes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from difflib import get_close_matches
from functools import partial
from types import MappingProxyType

from msgspec import Struct

from app.signs.here import Sign
from app.signs.table_measures import measure_rows
from app.signs.table_notes import note_rows
from app.signs.table_piece import piece_rows
from app.signs.word import Word, normal
from core.model import EditRefused

WORDS: tuple[Word, ...] = (*note_rows(), *measure_rows(), *piece_rows())


class Head(Struct, frozen=True):
    """The words a sign begins with, and what they lead to."""

    word: Word
    read: Callable[[str], Sign]


def _heads() -> Iterator[tuple[str, Head]]:
    for word in WORDS:
        for name in (word.name, *word.also):
            yield normal(name), Head(word, word.read)
            if word.off is not None:
                yield normal(f"no {name}"), Head(word, partial(_alone, f"no {name}", word.off))


def _alone(name: str, sign: Sign, rest: str) -> Sign:
    if rest:
        raise EditRefused(f"{name} stands alone; leave out {_short(rest)}.")
    return sign


HEADS = MappingProxyType(dict(_heads()))


def parse(text: str) -> Sign:
    """The sign that words mean; raises EditRefused with what can be written instead.

    What cannot be printed counts as a space, so that none of it gets into the lesson.
    """
    tokens = "".join(letter if letter.isprintable() else " " for letter in text).split()
    typed = " ".join(tokens)
    if not tokens:
        raise EditRefused("Write a sign, as staccato, slur or chord Am x02310.")
    found = _head(tokens)
    if found is None:
        raise EditRefused(f"{_short(typed)} is no sign. {_proposal(tokens)}")
    head, rest = found
    try:
        return head.read(rest)
    except ValueError:
        raise EditRefused(f"{_short(typed)} cannot be read; {_written(head.word)}") from None


def hint(text: str) -> str:
    """How the sign is written whose words have been typed so far; empty where none is."""
    found = _head(text.split())
    if found is None:
        return ""
    word = found[0].word
    return f"{word.shown}: {word.about}"


def _head(tokens: list[str]) -> tuple[Head, str] | None:
    """The longest words the text begins with that name a sign, and what follows them."""
    for count in range(min(len(tokens), 5), 0, -1):
        head = HEADS.get(normal(" ".join(tokens[:count])))
        if head is not None:
            return head, " ".join(tokens[count:])
    return None


def _written(word: Word) -> str:
    return f"write {word.shown}."


def _proposal(tokens: list[str]) -> str:
    names = {normal(word.name): word for word in WORDS}
    first = normal(" ".join(tokens[:3]))[:60]
    tries = [first, *first.split()[:1]]
    close = [name for t in tries for name in get_close_matches(t, names, 1)]
    if close:
        word = names[close[0]]
        return f"Did you mean {word.shown}, {word.about}?"
    return "Write for example staccato, slur or chord Am x02310; the list shows every word."


def _short(text: str) -> str:
    return text if len(text) <= 40 else f"{text[:38]} …"
