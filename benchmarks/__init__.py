"""How fast, beside what: measurements saved as tables in ``results``. Nothing here is shipped."""
