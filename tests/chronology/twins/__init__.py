"""Fast code and its slow, obvious twin: every sum again, written out as docs/model.md states it."""
