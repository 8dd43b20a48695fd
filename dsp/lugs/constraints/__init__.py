"""The constraints of a lug chart, for a constraint solver."""
