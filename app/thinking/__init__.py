"""What the worker process thinks about: the left hand. Knows core only, no Qt."""
