"""Reading painted pictures as numbers."""

from __future__ import annotations

import numpy as np
from PySide6.QtGui import QImage


def ink(image: QImage) -> np.ndarray:
    """Darkness of every pixel, 0 white to 1 black."""
    grey = image.convertToFormat(QImage.Format.Format_Grayscale8)
    rows = np.frombuffer(grey.constBits(), np.uint8).reshape(grey.height(), grey.bytesPerLine())
    return 1 - rows[:, : grey.width()].astype(float) / 255


def box(darkness: np.ndarray) -> tuple[int, int, int, int]:
    """Left, top, right, bottom of the pixels that are dark at all; right and bottom outside."""
    ys, xs = np.nonzero(darkness > 0.02)
    return int(xs.min()), int(ys.min()), int(xs.max()) + 1, int(ys.max()) + 1


def centre(darkness: np.ndarray) -> tuple[float, float]:
    """The centre of the ink in pixels from the top left corner."""
    ys, xs = np.mgrid[: darkness.shape[0], : darkness.shape[1]] + 0.5
    total = darkness.sum()
    return float((darkness * xs).sum() / total), float((darkness * ys).sum() / total)
