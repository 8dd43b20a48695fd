"""Union-find: which things are one once everything joined to something is followed."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from typing import Generic, TypeVar

T = TypeVar("T", bound=Hashable)


class Merge(Generic[T]):
    """A partition that joins; the order of joins changes no class.

    Parameters
    ----------
    members : iterable
        Everything that may be joined; each starts alone.
    """

    def __init__(self, members: Iterable[T]) -> None:
        self._parent: dict[T, T] = {member: member for member in members}

    def root(self, member: T) -> T:
        """The member that stands for its class."""
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
        """The classes, and their members, in the order the members were given."""
        found: dict[T, list[T]] = {}
        for member in self._parent:
            found.setdefault(self.root(member), []).append(member)
        return list(found.values())
