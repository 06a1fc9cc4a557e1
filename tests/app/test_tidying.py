"""The collector of rings waits for a pause, and is given back."""

from __future__ import annotations

import gc
import weakref

from app.tidying import Tidying


class Ring:
    """Something only the collector can free."""

    def __init__(self) -> None:
        self.me = self


def test_rings_go_in_a_pause_and_not_while_busy(bench, qtbot):
    busy = [True]
    made = Tidying(bench.session, lambda: busy[0])
    try:
        assert not gc.isenabled()
        ring = weakref.ref(Ring())
        bench.press("3")
        qtbot.wait(1700)
        assert ring() is not None
        busy[0] = False
        qtbot.waitUntil(lambda: ring() is None, timeout=5000)
    finally:
        made.finish()
    assert gc.isenabled()
