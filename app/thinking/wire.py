"""How values go over a pipe: four bytes of length (little-endian) and a pickled value.

Both ends are the same program, so that nothing foreign is ever unpickled.
"""

from __future__ import annotations

import pickle

from app.thinking.questions import Message, Reply

LENGTH = 4


def frame(value: Message | Reply) -> bytes:
    """A value as it goes over a pipe."""
    data = pickle.dumps(value, pickle.HIGHEST_PROTOCOL)
    return len(data).to_bytes(LENGTH, "little") + data
