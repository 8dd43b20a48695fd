"""Requests and their answers: handlers that parse, call storage or jobs, and answer."""
