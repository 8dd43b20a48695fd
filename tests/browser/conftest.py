"""Fixtures for tests in a real browser."""

from browser_started import chromium, console, context, page, player, playwright

__all__ = ["chromium", "console", "context", "page", "player", "playwright"]
