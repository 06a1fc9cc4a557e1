"""The sign line: words of the trade, what sign they mean, and where it goes. Knows no Qt."""
