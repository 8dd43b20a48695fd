"""A bounded cache in memory: the results used last."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

Result = TypeVar("Result")


class Recent(Generic[Result]):
    """Keeps the results used last, up to ``most``; threads may share it."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._results: OrderedDict[Hashable, Result] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, key: Hashable) -> Result | None:
        """Return the result under a key, or None."""
        with self._lock:
            if key in self._results:
                self._results.move_to_end(key)
            return self._results.get(key)

    def get_or_make(self, key: Hashable, make: Callable[[], Result]) -> Result:
        """Return the result under a key; make and keep it if it is missing.

        Two threads that ask at once may both make it.
        """
        result = self.get(key)
        if result is None:
            result = make()
            self.put(key, result)
        return result

    def put(self, key: Hashable, result: Result) -> None:
        """Keep a result under a key; the one not used for longest gives way."""
        with self._lock:
            self._results[key] = result
            self._results.move_to_end(key)
            while len(self._results) > self._most:
                self._results.popitem(last=False)
