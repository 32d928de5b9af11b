"""The garage on the command line: builds with their history, their logs and their trials."""
