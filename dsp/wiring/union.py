"""Union-find: merge things into classes."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from typing import Generic, TypeVar

T = TypeVar("T", bound=Hashable)


class Merge(Generic[T]):
    """A partition whose classes can be joined, in any order.

    Parameters
    ----------
    members : iterable
        All members; each starts alone.
    """

    def __init__(self, members: Iterable[T]) -> None:
        self._parent: dict[T, T] = {member: member for member in members}

    def root(self, member: T) -> T:
        """Return the member that stands for a member's class."""
        parent = self._parent
        while parent[member] != member:
            parent[member] = parent[parent[member]]
            member = parent[member]
        return member

    def join(self, members: Iterable[T]) -> None:
        """Put all the members into one class."""
        first: T | None = None
        for member in members:
            if first is None:
                first = member
            else:
                self._parent[self.root(member)] = self.root(first)

    def same(self, one: T, other: T) -> bool:
        """Whether two members are in one class."""
        return self.root(one) == self.root(other)

    def classes(self) -> list[list[T]]:
        """Return the classes; they and their members keep the order given."""
        found: dict[T, list[T]] = {}
        for member in self._parent:
            found.setdefault(self.root(member), []).append(member)
        return list(found.values())
