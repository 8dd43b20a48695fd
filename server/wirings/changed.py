"""A wiring file with a bench edit written into it, comments kept."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from dsp.parts.pot import Pot
from dsp.parts.two_lead import Capacitor, Inductor, Resistor
from dsp.units import show
from dsp.wiring.change import Edit
from dsp.wiring.model import Part, Terminal, Wiring
from server.files.yaml_text import read_text
from server.wirings.text import WiringText

Changes = list[tuple[list[str], str | None]]
"""Places of a text, and the values written there; None takes the place out."""


class EditedText(WiringText):
    """The text of a wiring file, to be changed as an edit says."""

    @classmethod
    def of(cls, path: Path) -> EditedText:
        """The text of a file."""
        return cls(read_text(path), str(path))

    def put_edit(self, wiring: Wiring, edit: Edit) -> None:
        """Write the parts and joints of an edit.

        Parameters
        ----------
        wiring : Wiring
            What the file says.
        edit : Edit
        """
        parts = self._data["parts"]
        for key in [key for key in parts if str(key) in edit.out]:
            del parts[key]
        for name, part in edit.parts.items():
            if name in wiring.parts:
                self._put_values(name, part, edit.taper)
            else:
                self.put(["parts", name], _fields(part))
        self._put_rows(edit.rows(wiring))

    def changes(self, wiring: Wiring, edit: Edit) -> Changes:
        """The same edit as values for places of the text.

        Parameters
        ----------
        wiring : Wiring
            What the text says.
        edit : Edit

        Returns
        -------
        list of (list of str, str or None)
            Place and value, as `change` takes them; None takes the place out. The joints are one
            value.
        """
        found: Changes = []
        for name, part in edit.parts.items():
            fields = _fields(part) | ({"taper": edit.taper} if isinstance(part, Pot) and edit.taper else {})
            if name in wiring.parts:
                found += self.values({f"{name}.{field}": v for field, v in fields.items() if field != "kind"})
            else:
                inside = ", ".join(f"{field}: {value}" for field, value in fields.items())
                found.append((["parts", name], f"{{{inside}}}"))
        rows = edit.rows(wiring)
        if rows != tuple(enumerate(joint.terminals for joint in wiring.joints)):
            joints = ["[" + ", ".join(map(".".join, row)) + "]" for _, row in rows]
            found.append((["joints"], f"[{', '.join(joints)}]"))
        return found + [(["parts", name], None) for name in edit.out if name not in edit.parts]

    def values(self, changes: Mapping[str, str]) -> Changes:
        """Values of fields such as ``tone.taper``, as `change` takes them.

        A midpoint goes with the taper that it belonged to.
        """
        found: Changes = [(["parts", *place.split(".")], value) for place, value in changes.items()]
        for path, _ in list(found):
            midpoint = [*path[:-1], "midpoint"]
            if path[-1] == "taper" and self._found(midpoint) is not None:
                found.append((midpoint, None))
        return found

    def _put_values(self, name: str, part: Part, taper: str) -> None:
        """New values of a part that is there; its other fields stay."""
        for field, value in _fields(part).items():
            if field != "kind":
                self.set(["parts", name, field], value)
        if isinstance(part, Pot):
            self.set(["parts", name, "taper"], taper)
            at = next(key for key in self._data["parts"] if str(key) == name)
            self._data["parts"][at].pop("midpoint", None)

    def _put_rows(self, rows: tuple[tuple[int | None, tuple[Terminal, ...]], ...]) -> None:
        """Joints that changed are written anew in their place; others are left alone."""
        joints = self._data["joints"]
        left = dict(rows)
        for i in reversed(range(len(joints))):
            names = [".".join(terminal) for terminal in left.get(i, ())]
            if not names:
                del joints[i]
            elif [str(one) for one in joints[i]] != names:
                joints[i][:] = names
        joints.extend(_flow([".".join(terminal) for terminal in row]) for i, row in rows if i is None)


def _fields(part: Part) -> dict[str, str]:
    """A part as a wiring file says it."""
    if isinstance(part, Capacitor):
        return {"kind": "capacitor", "capacitance": show(part.capacitance_f, "capacitance", 3)}
    if isinstance(part, Resistor):
        return {"kind": "resistor", "resistance": show(part.resistance_ohm, "resistance", 3)}
    if isinstance(part, Inductor):
        inductance = show(part.inductance_h, "inductance", 3)
        return {
            "kind": "inductor",
            "inductance": inductance,
            "resistance": show(part.resistance_ohm, "resistance", 3),
        }
    assert isinstance(part, Pot)  # an edit changes nothing else
    return {"kind": "pot", "resistance": show(part.resistance_ohm, "resistance", 3)}


def _flow(items: list[str]) -> object:
    from ruamel.yaml.comments import CommentedSeq

    found = CommentedSeq(items)
    found.fa.set_flow_style()
    return found
