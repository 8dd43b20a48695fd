"""A part kind is one file, and its two formulations of its physics stay apart."""

from __future__ import annotations

import ast
import inspect
import textwrap
from collections.abc import Iterator
from pathlib import Path

import pytest
from places import ROOT

from dsp.documents.tree import Reading
from dsp.parts.capacitor import CapacitorKind
from dsp.parts.expression import parse_expression
from dsp.parts.kind import Conductor, Part, PartKind, Symbol
from dsp.parts.kinds import KINDS, kind_of, new_part
from dsp.parts.sketch import Sketch
from dsp.parts.switch import on_on
from dsp.wiring.reading.parts import read_part, tree_of

CLASSES = {kind.part.__name__ for kind in KINDS.values()}
EXAMPLES: dict[str, dict[str, object]] = {
    "coil": {
        "resistance": 4100.0, "inductance": 2.3, "capacitance": 70e-12, "at": 0.168, "winding": "reverse",
        "magnet": "south", "string_balance": (0.0, -1.5), "turns_area": 1.02, "hum_area": 3.1,
        "tap": 0.6, "tap_resistance": 2500.0,
    },
    "pot": {"resistance": 500e3, "taper": "audio", "midpoint": 0.1, "end_resistance": 22.0, "no_load": "true",
        "tap": 0.4, "detent": 0.03,
    },
    "capacitor": {"capacitance": 22e-9, "tan_delta": 0.02, "type": "paper in oil"},
    "resistor": {"resistance": 1e6},
    "inductor": {"inductance": 1.5, "resistance": 90.0},
    "transformer": {"ratio": 0.16},
    "switch": {"lugs": on_on(1).lugs, "contacts": on_on(1).contacts},
    "sketch": {"positions": {"1": parse_expression("a + -b"), "2": parse_expression("(a | b) + c")}},
    "jack": {"lugs": ("ring", "rest"), "contacts": {"out": (("tip", "rest"),), "in": ()}},
    "metal": {"of": "cover", "on": ("a", "b")},
    "group": {},
}  # fmt: skip


def imported_classes(text: str) -> set[str]:
    """Return the part classes that a module imports by name."""
    names = (
        alias.name
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("dsp.parts.")
        for alias in node.names
    )
    return CLASSES & set(names)


def outside() -> Iterator[Path]:
    for path in sorted([*(ROOT / "dsp").rglob("*.py"), *(ROOT / "server").rglob("*.py")]):
        if not path.is_relative_to(ROOT / "dsp" / "parts"):
            yield path


def test_nothing_else_knows_two_kinds_by_their_classes() -> None:
    found = {str(path): imported_classes(path.read_text(encoding="utf-8")) for path in outside()}
    assert len(found) > 200
    assert not {path: names for path, names in found.items() if len(names) > 1}


def test_a_module_that_knows_two_is_found() -> None:
    text = "from dsp.parts.coil import Coil, Eddy\ndef f():\n    from dsp.parts.pot import Pot as P\n"
    assert imported_classes(text) == {"Coil", "Pot"}


def names_used(method: object) -> set[str]:
    """Return what a method uses of its kind or of the module, except the part's own attributes."""
    tree = ast.parse(textwrap.dedent(inspect.getsource(method)))  # type: ignore[arg-type]
    (function,) = tree.body
    assert isinstance(function, ast.FunctionDef)
    given = {argument.arg for argument in function.args.args}
    local = {n.id for n in ast.walk(function) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store)}
    body = ast.Module(function.body, [])
    own = {
        node.attr
        for node in ast.walk(body)
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "self"
    }
    free = {n.id for n in ast.walk(body) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Load)}
    return own | (free - given - local - {"self"})


def physics_of(kind: Conductor[Part]) -> tuple[set[str], set[str]]:
    """Return what each solver's methods use, except the defaults of the base class."""
    written = set(vars(type(kind)))

    def used(*names: str) -> set[str]:
        return {one for name in names if name in written for one in names_used(getattr(type(kind), name))}

    return used("admittance", "admittances", "impedance", "ties"), used("stamp", "stamps")


@pytest.mark.parametrize(
    "kind", [k for k in KINDS.values() if isinstance(k, Conductor)], ids=lambda k: k.name
)
def test_the_two_solvers_share_nothing_but_the_part(kind: Conductor[Part]) -> None:
    first, second = physics_of(kind)
    assert first <= {"np", "complex", "Complex", "tuple"}
    assert second <= {"len", "zip", "stamp"}


def test_a_kind_with_one_solver_using_the_other_is_found() -> None:
    class Bad(CapacitorKind):
        def admittance(self, part, s):  # type: ignore[no-untyped-def]
            return helper(part)  # noqa: F821

        def stamp(self, part, branch, build):  # type: ignore[no-untyped-def]
            return self.admittances(part, 0)

    first, second = physics_of(Bad())
    assert (first, second) == ({"helper"}, {"admittances"})


def test_every_kind_has_an_example() -> None:
    assert set(EXAMPLES) == set(KINDS)


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_written_kind_reads_back(name: str) -> None:
    part = new_part(name, **EXAMPLES[name])
    kind: PartKind[Part] = kind_of(part)
    reading = Reading("written.yaml")
    assert read_part(reading, tree_of(kind.file_fields(part), 1), "part") == part
    assert not reading.problems


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_written_kind_leaves_nothing_to_assume(name: str) -> None:
    """A file made from a part draws no remark on a default that its own file had written."""
    part = new_part(name, **EXAMPLES[name])
    assert set(kind_of(part).assumptions) <= set(kind_of(part).file_fields(part))


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_symbol_shows_every_lead_in_its_box(name: str) -> None:
    part = new_part(name, **EXAMPLES[name])
    symbol: Symbol = kind_of(part).symbol(part)
    assert set(symbol.leads) == set(kind_of(part).leads(part))
    assert symbol.strokes.startswith("M")
    width, height = symbol.size
    assert all(0 <= x <= width and 0 <= y <= height for x, y in symbol.leads.values())


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_field_has_a_reader_and_a_schema(name: str) -> None:
    kind = KINDS[name]
    plain = {"quantity", "choice", "count", "levels", "words"}
    assert {field.form for field in kind.fields} - plain == set(kind.forms)


def test_a_sketch_alone_is_not_a_switch() -> None:
    assert [name for name, kind in KINDS.items() if getattr(kind, "sketched", False)] == ["sketch"]
    assert isinstance(new_part("sketch", **EXAMPLES["sketch"]), Sketch)
