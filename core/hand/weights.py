"""Weights learned from editors' finger marks; credits in ``CREDITS.md`` beside this file."""

from __future__ import annotations

from core.hand.features import HOUSE

FITTED: tuple[float, ...] = HOUSE
