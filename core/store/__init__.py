"""Lessons on disk: saving, loading, the journal of unsaved changes, recovery."""

from core.store.files import write_atomically
from core.store.journal import Journal, journal_path, recover, recover_unsaved, unsaved_path
from core.store.lessons import load, save
from core.store.marks import mark, marked, unmark

__all__ = [
    "Journal", "journal_path", "load", "mark", "marked", "recover", "recover_unsaved", "save",
    "unmark", "unsaved_path", "write_atomically",
]  # fmt: skip
