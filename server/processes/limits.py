"""Limits on what a child process may use."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass


@dataclass(frozen=True)
class Limits:
    """What a child may use before the system stops it.

    Attributes
    ----------
    memory_bytes : int
        Of address space.
    file_bytes : int
        Size of a file it writes.
    """

    memory_bytes: int
    processor_s: int
    file_bytes: int
    open_files: int

    def apply(self) -> None:
        """Limit this process, as far as the system can.

        Windows has none of these limits, and macOS not all. Whoever starts a child with limits
        gives it a time as well (`Child.allow`), which holds everywhere.
        """
        try:
            import resource
        except ImportError:
            return
        for name, value in (
            ("RLIMIT_AS", self.memory_bytes),
            ("RLIMIT_CPU", self.processor_s),
            ("RLIMIT_FSIZE", self.file_bytes),
            ("RLIMIT_NOFILE", self.open_files),
            ("RLIMIT_CORE", 0),
        ):
            with contextlib.suppress(AttributeError, ValueError, OSError):
                resource.setrlimit(getattr(resource, name), (value, value))
