"""Recordings of the finished guitar, held to what was proposed."""
