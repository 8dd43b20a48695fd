"""Paths, named once so that a test file can move."""

from __future__ import annotations

from pathlib import Path

ROOT = Path(__file__).parents[2]
TESTS = ROOT / "tests"
DEMO = ROOT / "demo_audio"
NETWORKS = TESTS / "reference" / "networks"
PICTURES = TESTS / "browser" / "pictures"
"""Screenshots for review; git ignores them."""
