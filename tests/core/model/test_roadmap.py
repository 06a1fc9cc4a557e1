"""The order of playing: repeats, endings, D.C., D.S., coda, Fine. Common practice, no source."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from msgspec import structs

from core.model import Arrangement, Ending, Section, Sign
from core.model.roadmap import MOST_OCCURRENCES, most_played, played
from tests import build, strategies


def piece(*sections: str) -> Arrangement:
    """Sections such as ``"2x a b [1 c] [2 d]"``: times, measures, endings; signs after a colon.

    A measure is a letter, its signs follow: ``d:fine``, ``e:ds-al-coda``.
    """
    built: list[Section] = []
    number = 100
    for text in sections:
        times, *words = text.split()
        row, endings, passes, first = [], [], None, 0
        for word in words:
            number += 1
            if word.startswith("["):
                passes = tuple(int(p) for p in word[1:].split(","))
                first = number + 1
                continue
            closing = word.endswith("]")
            name, *signs = word.rstrip("]").split(":")
            kinds = tuple(Sign(kind.replace("-", " ")) for kind in signs)
            measure = build.measure("r:whole", iter((number, 10_000 + number)))
            row.append(structs.replace(measure, signs=kinds))
            NAMES[number] = name
            if closing and passes:
                endings.append(Ending(passes, first, number))
        built.append(
            Section(90 + len(built), tuple(row), times=int(times[:-1]), endings=tuple(endings))
        )
    return Arrangement(tuple(built))


NAMES: dict[int, str] = {}


def order(arrangement: Arrangement) -> str:
    return "".join(NAMES[occurrence.measure.id] for occurrence in played(arrangement))


@pytest.mark.parametrize(
    ("sections", "expected"),
    [
        (["1x a b c"], "abc"),
        (["2x a b", "1x c"], "ababc"),
        (["3x a"], "aaa"),
        # First and second ending.
        (["2x a b [1 c] [2 d]", "1x e"], "abcabde"),
        # First and second time, then a third one.
        (["3x a [1,2 b] [3 c]"], "ababac"),
        (["3x a [1 b] [2 c] [3 d]"], "abacad"),
        # A pickup belongs to the first pass of its section only when it is one of its own.
        (["1x p", "2x a b"], "pabab"),
        (["2x p a b"], "pabpab"),
        # D.C. al Fine: repeats are not taken again, Fine ends it.
        (["2x a b:fine", "1x c d:dc-al-fine"], "ababcdab"),
        (["2x a [1 b] [2 c:fine]", "1x d e:dc-al-fine"], "abacdeac"),
        # D.C. alone goes back and obeys Fine, and plays to the end where there is none.
        (["1x a b:fine c d:dc"], "abcdab"),
        (["1x a b c:dc", "1x d"], "abcabcd"),
        # D.S. al Fine.
        (["1x a b:segno c:fine d:ds-al-fine"], "abcdbc"),
        # D.S. al Coda, the coda after the jump is played only then.
        (["1x a b:segno c:to-coda d e:ds-al-coda", "1x f:coda g"], "abcdebcfg"),
        # D.C. al Coda.
        (["1x a b:to-coda c:dc-al-coda", "1x d:coda e"], "abcabde"),
        # Fine inside the way al Coda is not the end; after the leap it is.
        (["1x a:fine b:to-coda c:dc-al-coda", "1x d:coda e:fine f"], "abcabde"),
        # To Coda without a coda is not obeyed.
        (["1x a b:to-coda c d:dc-al-coda"], "abcdabcd"),
        # A coda that does not follow is none: nothing leaps back.
        (["1x a b:coda c d:to-coda e f:dc-al-coda"], "abcdefabcdef"),
        # D.S. without segno goes to the beginning.
        (["1x a b:ds"], "abab"),
        # A jump in the repeated section is obeyed in its last pass.
        (["2x a b:dc-al-fine", "1x c"], "ababab" + "c"),
    ],
)
def test_orders(sections: list[str], expected: str) -> None:
    assert order(piece(*sections)) == expected


def test_occurrences_say_which_pass_and_whether_after_a_return() -> None:
    occurrences = played(piece("2x a [1 b] [2 c:fine]", "1x d:dc-al-fine"))
    told = [(NAMES[o.measure.id], o.section, o.time, o.returned) for o in occurrences]
    assert told == [
        ("a", 0, 1, False), ("b", 0, 1, False), ("a", 0, 2, False), ("c", 0, 2, False),
        ("d", 1, 1, False), ("a", 0, 2, True), ("c", 0, 2, True),
    ]  # fmt: skip
    assert [o.index for o in occurrences] == list(range(7))


def test_a_road_map_without_end_is_refused() -> None:
    long = piece(*["99x " + "a " * 100] * 3)
    assert most_played(long) > MOST_OCCURRENCES
    with pytest.raises(ValueError, match="more than"):
        played(long)


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(strategies.arrangements())
def test_every_road_map_ends(arrangement: Arrangement) -> None:
    occurrences = played(arrangement)
    assert len(occurrences) <= most_played(arrangement)
    for occurrence in occurrences:
        section = arrangement.sections[occurrence.section]
        assert any(measure is occurrence.measure for measure in section.measures)
        assert 1 <= occurrence.time <= section.times
