"""Finished guitars: what is read at the jack, judged at once."""
