"""The one family of errors that reach the user as a sentence."""

from __future__ import annotations


class FootstoolError(Exception):
    """Something the user should hear about: one clear sentence, where it is, what to do."""


class BadInput(FootstoolError):
    """A file or an option cannot be used. The sentence names the place (file, line, measure)."""


class EditRefused(FootstoolError):
    """A command found that it cannot be carried out; nothing was changed."""
