"""Findings: what to know of a wiring before it is soldered."""
