"""Fuel and air on the bench: flow through holes, jets, the intake, the mixture."""
