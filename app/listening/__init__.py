"""Live sound: the audio thread and the player that drives it from the GUI thread."""

from app.listening.player import Player

__all__ = ["Player"]
