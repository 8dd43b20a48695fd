"""Compile the pitch tracker once per installation, in a process of its own.

The tracker's library compiles itself when it is first used, which takes twenty seconds.
"""

from __future__ import annotations

import platform
from collections.abc import Callable
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from importlib.util import find_spec

import numpy as np

from dsp.takes.recording import Kept
from dsp.tracking.pitch import HIGHEST_HZ, LOWEST_HZ, RATE_HZ, track_pitch
from server.files.cache import Cache
from server.files.compiled import fill_once
from server.processes.child import ONE_THREAD, Child, Work
from server.processes.parent import Parent
from server.refusals import Unavailable

WORK = Work(f"{__name__}:answer", niceness=0, variables=ONE_THREAD)  # somebody waits for it
COMPILERS = ("librosa", "numba", "llvmlite", "numpy")
LONGEST_S = 600.0


class CompiledFirst(Cache):
    """A cache for tracked recordings: what it lacks needs compiled code."""

    def kept(self, kind: str, key: tuple[object, ...], make: Callable[[], Kept]) -> Kept:
        """Return an array of the cache, or make it by the compiled tracker."""

        def compiled() -> Kept:
            compile_tracker()
            return make()

        return super().kept(kind, key, compiled)


def compile_tracker() -> None:
    """Have the pitch tracker compiled, unless it is.

    Raises
    ------
    Unavailable
        If it cannot be compiled here.
    """
    fill_once(_versions(), _compile_in_a_child)


@cache
def _versions() -> tuple[object, ...]:
    """Return what the compiled code depends on: its sources, the compiler and the processor."""
    source = find_spec("librosa")
    return (
        *(_version(name) for name in COMPILERS),
        platform.python_version(),
        platform.machine(),
        platform.processor(),
        platform.node(),
        None if source is None else source.origin,
    )


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return ""


def _compile_in_a_child() -> None:
    child = Child.start(WORK)
    try:
        child.allow(LONGEST_S)
        done = next(child.frames(), None)
    finally:
        child.end()
    if done is None:
        raise Unavailable("the pitch tracker", "it could not be compiled", "librosa with its numba")


def answer(parent: Parent) -> None:
    """Track a tone: what the child does.

    Whatever that needs is compiled, and kept by numba.
    """
    time_s = np.arange(RATE_HZ // 2) / RATE_HZ
    track_pitch(np.sin(2.0 * np.pi * 110.0 * time_s), LOWEST_HZ, HIGHEST_HZ)
    parent.send(b"compiled")
