"""What a verdict looks like: page, time line, terminal."""
