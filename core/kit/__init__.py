"""The artefacts of a lesson: what the teacher hands out, and the list that says what is what."""
