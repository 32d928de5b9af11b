"""What a bike is made of: tire, chain, gearbox, power curve, chassis. Pure functions and frozen records, SI."""
