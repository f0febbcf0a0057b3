"""What the measurements share: the clock, the machine's description, tables, charts."""
