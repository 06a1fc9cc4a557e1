"""The bench: Footstool's window, its listening thread and its command line."""
