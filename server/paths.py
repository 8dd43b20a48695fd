"""Where the files that are no code lie: beside the packages in a checkout, inside a wheel otherwise."""

from __future__ import annotations

from pathlib import Path

PACKAGES = Path(__file__).resolve().parents[1]
IN_WHEEL = "presolder_files"


def demo_folder() -> Path:
    """The demo's wirings, takes and their origin lines."""
    return _folder("demo_audio")


def web_folder() -> Path:
    """The page's modules and styles."""
    return _folder("web")


def _folder(name: str) -> Path:
    """A folder of the project, in a wheel or a checkout."""
    in_wheel = PACKAGES / IN_WHEEL / name
    return in_wheel if in_wheel.is_dir() else PACKAGES / name
