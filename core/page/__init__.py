"""Engraving: a lesson, a page style and font metrics become display lists. Pure functions."""
