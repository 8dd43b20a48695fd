"""Fixtures for every test."""

from server_started import running_server, shared_server

__all__ = ["running_server", "shared_server"]
