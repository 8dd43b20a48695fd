"""Answers: what was sent to a customer, and the sealed texts that come back."""
