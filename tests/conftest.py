"""Shared set-up: Qt without a screen unless a test asks for one, and noise as failure."""

from __future__ import annotations

import os

from hypothesis import settings

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# CI draws the same examples at every run, so that what lands is what was seen; at home they differ.
settings.register_profile("ci", derandomize=True)
if os.environ.get("CI"):
    settings.load_profile("ci")
