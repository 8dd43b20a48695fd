"""Plucked strings over coils: modes, damping, what a coil senses."""
