"""Write a change of a wiring into the text of a wiring file, comments kept."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from dsp.parts.kind import Part, Terminal
from dsp.parts.kinds import kind_of
from dsp.wiring.change import Change
from dsp.wiring.model import Wiring
from server.files.yaml_text import read_text
from server.wirings.text import WiringText, flow_list, written

Changes = list[tuple[list[str], str | None]]
"""Places of a text and their new values; None deletes the place."""


class EditedText(WiringText):
    """The text of a wiring file that takes edits."""

    @classmethod
    def of(cls, path: Path) -> EditedText:
        """Read the text of a file."""
        return cls(read_text(path), str(path))

    def put_change(self, wiring: Wiring, change: Change) -> None:
        """Write the parts and joints of a change.

        Parameters
        ----------
        wiring : Wiring
            The wiring in the file.
        """
        parts = self._data["parts"]
        for key in [key for key in parts if str(key) in change.removed]:
            del parts[key]
        for name, part in change.parts.items():
            if name in wiring.parts:
                self._put_values(name, _changed(wiring.parts[name], _fields(part, change.taper)))
            else:
                self.put(["parts", name], _fields(part))
        self._put_rows(change.new_joints(wiring))

    def changes(self, wiring: Wiring, change: Change) -> Changes:
        """Return a change as values for places of the text.

        Parameters
        ----------
        wiring : Wiring
            The wiring in the text.

        Returns
        -------
        list of (list of str, str or None)
            Place and value for `change`; None deletes the place. The joints are one value.
        """
        found: Changes = []
        for name, part in change.parts.items():
            fields = _fields(part, change.taper)
            if name in wiring.parts:
                new = _changed(wiring.parts[name], fields)
                found += self.values({f"{name}.{field}": value for field, value in new.items()})
            else:
                found.append((["parts", name], written(fields)))
        rows = change.new_joints(wiring)
        if rows != tuple(enumerate(joint.terminals for joint in wiring.joints)):
            joints = ["[" + ", ".join(map(".".join, row)) + "]" for _, row in rows]
            found.append((["joints"], f"[{', '.join(joints)}]"))
        return found + [(["parts", name], None) for name in change.removed if name not in change.parts]

    def values(self, changes: Mapping[str, str]) -> Changes:
        """Return the values of fields such as ``tone.taper`` for `change`.

        A new taper deletes the midpoint of the old one.
        """
        found: Changes = [(["parts", *place.split(".", 2)], value) for place, value in changes.items()]
        for path, _ in list(found):
            midpoint = [*path[:-1], "midpoint"]
            if path[-1] == "taper" and self._found(midpoint) is not None:
                found.append((midpoint, None))
        return found

    def _put_values(self, name: str, fields: Mapping[str, str]) -> None:
        """Write new values of an existing part; its other fields stay."""
        for field, value in fields.items():
            self.set(["parts", name, *field.split(".", 1)], value)
        if "taper" in fields:
            at = next(key for key in self._data["parts"] if str(key) == name)
            self._data["parts"][at].pop("midpoint", None)

    def _put_rows(self, rows: tuple[tuple[int | None, tuple[Terminal, ...]], ...]) -> None:
        """Rewrite changed joints in their place; leave the others alone."""
        joints = self._data["joints"]
        left = dict(rows)
        for i in reversed(range(len(joints))):
            names = [".".join(terminal) for terminal in left.get(i, ())]
            if not names:
                del joints[i]
            elif [str(one) for one in joints[i]] != names:
                joints[i][:] = names
        joints.extend(flow_list([".".join(terminal) for terminal in row]) for i, row in rows if i is None)


def _fields(part: Part, taper: str = "") -> dict[str, Any]:
    """Fields of a part in a wiring file; the taper's name only if its kind has a taper."""
    kind = kind_of(part)
    has_taper = any(field.name == "taper" for field in kind.fields)
    return kind.file_fields(part) | ({"taper": taper} if taper and has_taper else {})


def _changed(old: Part, fields: Mapping[str, Any]) -> dict[str, str]:
    """Fields that differ from those of the existing part, as text; those of a map by ``map.key``."""
    before = _flat(kind_of(old).file_fields(old))
    return {field: value for field, value in _flat(fields).items() if before.get(field) != value}


def _flat(fields: Mapping[str, Any]) -> dict[str, str]:
    found: dict[str, str] = {}
    for field, value in fields.items():
        if isinstance(value, Mapping):
            found |= {f"{field}.{key}": written(one) for key, one in value.items()}
        else:
            found[field] = written(value)
    return found
