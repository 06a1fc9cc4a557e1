"""What the message line says when a key cannot be obeyed: where, why, and what to do."""

from __future__ import annotations

import pytest

from tests.app.conftest import Driver


@pytest.mark.parametrize(
    ("keys", "answer", "told"),
    [
        ("Down Down Return", None, "In measure 1 there is no note at the caret; the arrows walk"),
        ("Z", "3/5", "3/5 is not a metre; write one such as 6/8."),
        ("Z", "H major", "H major is not a key; write one such as A minor, Am or Bb."),
        ("Shift+Z", "abc", "abc is not a length; write one such as 1/8."),
        ("=", "9", "There is no measure 9; the last one is 3."),
        ("=", "1", "Measure 1 cannot be the same as itself; name another measure."),
        ("B", None, "In measure 1 the bass has notes at that time; move or delete them first."),
        (
            "Ctrl+Right Ctrl+Right Right L",
            None,
            "In measure 3 nothing follows D4 in the melody; write",
        ),
    ],
)
def test_a_refusal_names_the_place_and_a_way_out(
    bench: Driver, keys: str, answer: str | None, told: str
) -> None:
    before = bench.lesson()
    bench.press(*keys.split())
    if answer is not None:
        bench.answer(answer)
    assert bench.message().startswith(told)
    assert bench.lesson() == before
