"""Charts and drawings: pure functions of plain numbers, in the units they are to be read in."""
