"""Clips: planned, rendered, recorded, listed."""
