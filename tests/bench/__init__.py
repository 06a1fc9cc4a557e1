"""Measured figures, one command: ``python -m tests.bench [--only PREFIX] [--json]``."""
