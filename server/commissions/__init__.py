"""Commissions, their wirings and versions."""
