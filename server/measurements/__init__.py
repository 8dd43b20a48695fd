"""Recordings and readings of a coil become its values, and these a part of a wiring."""
