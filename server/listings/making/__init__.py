"""Listing renders: a whole catalogue of demo clips and pages, unattended."""
