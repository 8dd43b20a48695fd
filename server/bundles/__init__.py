"""Proposals that travel: a page that is a file, or a folder for any web host."""
