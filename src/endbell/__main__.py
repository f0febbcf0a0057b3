"""``python -m endbell``."""

from .cli import main

main()
