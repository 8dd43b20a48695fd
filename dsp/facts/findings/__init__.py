"""Findings: what to know about a wiring before soldering it."""
