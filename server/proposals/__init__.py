"""Proposals: what a customer is sent, hears and signs."""
