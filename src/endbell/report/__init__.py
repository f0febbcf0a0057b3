"""What a verdict looks like: time line and strip (SVG), page (HTML), terminal (text).

Pure functions from a verdict to a string; nothing here weighs, reads files or knows the date.
"""

from .numbers import percent
from .page import page
from .strip import strip_svg
from .terminal import terminal, terminal_renderables
from .timeline import timeline_svg

__all__ = ["page", "percent", "strip_svg", "terminal", "terminal_renderables", "timeline_svg"]
