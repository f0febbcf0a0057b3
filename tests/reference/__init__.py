"""Reference packs: shipped, made by a shop, and broken."""
