"""Listings: ordered on the page, made one after the other, shown."""
