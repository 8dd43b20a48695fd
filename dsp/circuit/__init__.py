"""Nodal analysis of a setting's network: responses, modes, hum, noise, meter readings."""
