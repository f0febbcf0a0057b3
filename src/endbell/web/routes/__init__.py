"""One file a screen, each with its ``router``."""
