"""Endbell: weigh the date codes, stamps and features of a vintage valve amplifier together."""

__version__ = "0.1.0"
