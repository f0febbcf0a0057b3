"""The steps that bring an older database forward, one file each; run by ``open_database``."""
