"""Edits of a wiring as one does them at the bench: add, remove, rename, solder, swap, choose."""
