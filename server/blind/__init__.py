"""Blind tests."""
