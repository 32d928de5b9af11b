"""How a table of a log is written: headings, stamps, cells; and what positions tell of it."""
