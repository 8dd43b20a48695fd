"""Replace the sketch in a wiring file by a charted switch, comments kept."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from dsp.lugs.chart import COLD_END, HOT_END, SWITCH, Chart
from dsp.parts.kind import Terminal
from dsp.parts.kinds import ends_of
from dsp.parts.switch import Switch
from dsp.wiring.groups import groups_of
from server.files.yaml_text import read_text
from server.wirings.text import WiringText, flow_list


class ChartedText(WiringText):
    """The text of a wiring file whose sketch a switch replaces."""

    @classmethod
    def of(cls, path: Path) -> ChartedText:
        """Read the text of a file."""
        return cls(read_text(path), str(path))

    def put_chart(self, selector: str, chart: Chart, labels: Mapping[str, str] | None) -> None:
        """Write the switch, its joints and its labels in place of the sketch.

        Parameters
        ----------
        selector : str
            Name of the sketch, and then of the switch.
        labels : mapping of str to str or None
            Words per switch position; equal labels in the text stay untouched. None leaves all alone.
        """
        parts = self._data["parts"]
        part = next(key for key in parts if str(key) == selector)
        switch = chart.switch
        first, *others = switch.members(selector).items()
        parts[part] = _switch(first[1], parts[part])
        for name, other in others:
            parts[name] = _switch(other, {})
        for key in ("joints",) if labels is None else ("joints", "labels"):
            if self._data.get(key) is None:
                self._data[key] = [] if key == "joints" else {}
        self._put_joints(selector, chart)
        if labels is not None:
            self._put_labels(labels)
        self._dissolve_groups()

    def _dissolve_groups(self) -> None:
        """Make plain joints of the groups that no sketch places any more."""
        if not any(part.get("kind") == "group" for part in self._data["parts"].values()):
            return
        wiring = self.wiring()
        for group in groups_of(wiring):
            if group in wiring.placed:
                continue
            for lead in ends_of(wiring.parts[group]):
                self._dissolve(f"{group}.{lead}")
            parts = self._data["parts"]
            del parts[next(key for key in parts if str(key) == group)]

    def _dissolve(self, terminal: str) -> None:
        """Join all joints that name a terminal into the first of them, without it."""
        joints = self._data["joints"]
        first, *others = [n for n, joint in enumerate(joints) if any(str(one) == terminal for one in joint)]
        known = {str(one) for one in joints[first]}
        for n in reversed(others):
            joints[first].extend(one for one in joints.pop(n) if str(one) not in known)
        for k in reversed([k for k, one in enumerate(joints[first]) if str(one) == terminal]):
            del joints[first][k]

    def _put_joints(self, selector: str, chart: Chart) -> None:
        joints = self._data["joints"]
        for net in chart.nets:
            end = next((t for t in net if t in (HOT_END, COLD_END)), None)
            names = [_named(t, selector, chart.switch) for t in net if t != end]
            placed = end is not None and self._into_joints(joints, f"{selector}.{end[1]}", names)
            if not placed and len(names) > 1:
                joints.append(flow_list(names))

    def _into_joints(self, joints: Any, end: str, names: list[str]) -> bool:
        """Put terminals into joints that name an end of the sketch; return whether any does.

        One of the terminals ties a second joint with that end to the first.
        """
        found = [joint for joint in joints if any(str(one) == end for one in joint)]
        for i, joint in enumerate(found):
            at = next(k for k, one in enumerate(joint) if str(one) == end)
            joint[at] = names[0]
            if i == 0:
                for offset, name in enumerate(names[1:], 1):
                    joint.insert(at + offset, name)
        return bool(found)

    def _put_labels(self, labels: Mapping[str, str]) -> None:
        """Write labels that differ; delete those of positions that no longer exist."""
        table = self._data["labels"]
        for key in [key for key in table if str(key) not in labels]:
            del table[key]
        for name, text in labels.items():
            key = next((key for key in table if str(key) == name), None)
            if key is None or str(table[key]) != text:
                table[name if key is None else key] = _quoted(text)


def _named(terminal: Terminal, selector: str, switch: Switch) -> str:
    part, lead = terminal
    return ".".join(switch.place(lead, selector) if part == SWITCH else terminal)


def _quoted(text: str) -> Any:
    from ruamel.yaml.scalarstring import DoubleQuotedScalarString

    return DoubleQuotedScalarString(text)


def _switch(switch: Switch, old: Any) -> Any:
    """The switch as a part; it keeps the sketch's ``ganged``."""
    from ruamel.yaml.comments import CommentedMap

    contacts = CommentedMap()
    for position, groups in switch.contacts.items():
        contacts[position] = flow_list(flow_list(group) for group in groups)
    part = CommentedMap(kind="switch", lugs=flow_list(switch.lugs), contacts=contacts)
    if switch.timing:
        part["timing"] = switch.timing
    if "ganged" in old:
        part["ganged"] = old["ganged"]
    return part
