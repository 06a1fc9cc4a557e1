"""Insight: what the notes say about themselves, and the red pen's rules."""
