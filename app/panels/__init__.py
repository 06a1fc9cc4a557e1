"""The panels of the bench: each shows values and calls actions."""
