"""What the documents say is there, and what is there is in the documents."""

from __future__ import annotations

import ast
import importlib
import re
import subprocess
import tomllib
from collections.abc import Iterator

import click
import pytest
from packaging.requirements import Requirement
from places import ROOT

from server.cli import COMMANDS, main

PAGES = {
    name: (ROOT / name).read_text(encoding="utf-8")
    for name in (
        "README.md", "DEVELOPERS.md", "dsp/README.md", "server/README.md", "web/README.md", "tests/README.md",
        "demo_audio/README.md", "tests/reference/networks/README.md",
    )
}  # fmt: skip
README = PAGES["README.md"]
TOGETHER = "\n".join(PAGES.values())
"""All pages as one text: each fact is in one of them."""
SOURCES = sorted([*(ROOT / "dsp").rglob("*.py"), *(ROOT / "server").rglob("*.py")])
FIRST_LINE = 72
ARRAYS = re.compile(r"Floats|Complex|NDArray|ndarray")


def command_of(name: str) -> click.Command:
    command: click.Command = importlib.import_module(COMMANDS[name][0]).command
    return command


# --- README


def test_the_readme_opens_with_the_job_in_one_paragraph() -> None:
    head, title, job, *_ = ["", *README.split("\n\n")]
    assert (head, title) == ("", "# Presolder")
    assert job.startswith("Presolder lets people hear a guitar's wiring before it is soldered")
    assert len(job.split()) > 40


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_in_the_readme(name: str) -> None:
    assert re.search(rf"`presolder {name}[ `]", README)


def test_the_readme_names_no_missing_command() -> None:
    assert set(re.findall(r"presolder (\w+)", README)) <= set(COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_is_documented(name: str) -> None:
    """A page describes it, or `--help` does."""
    command = command_of(name)
    text = command.get_help(click.Context(command, info_name=name))
    for option in command.params:
        if isinstance(option, click.Option):
            assert option.help, f"{name} {option.name}"
            assert all(long in text or long in TOGETHER for long in option.opts if long.startswith("--"))


def test_commands_and_options_in_the_pages_are_there() -> None:
    assert set(re.findall(r"presolder (?!demo_audio)([a-z]+)\b", _calls(TOGETHER))) <= set(COMMANDS)
    options = {
        long for name in COMMANDS for p in command_of(name).params for long in (*p.opts, *p.secondary_opts)
    }
    options |= {"--help"}
    named = set(re.findall(r"(?<![\w-])--[a-z][a-z-]*", _calls(TOGETHER)))
    assert {"--loudness", "--cluster", "--time"} <= named
    assert named <= options


def _calls(text: str) -> str:
    """Return code spans that begin with the command or an option, one per line."""
    return "\n".join(re.findall(r"`(presolder [^`]*|--[^`]*)`", text))


@pytest.mark.parametrize(("marker", "ends"), [("run", "--out clips"), ("test", ".venv/bin/pytest -n auto")])
def test_the_two_commands_stand_between_their_markers(marker: str, ends: str) -> None:
    """`.ci/run` and newcomers read them there: one shell block that installs and runs by itself."""
    inside = README.split(f"<!-- {marker} -->")
    assert len(inside) == 2
    block, _, _ = inside[1].partition(f"<!-- /{marker} -->")
    match = re.fullmatch(r"\s*```sh\n(.*?)```\s*", block, re.DOTALL)
    assert match
    call = match[1].replace("\\\n", " ").strip()
    assert "\n" not in call
    assert "python3 -m venv .venv" in call
    assert ".venv/bin/pip install" in call
    assert call.endswith(ends)


def test_ci_runs_the_readmes_own_test_command() -> None:
    assert "<!-- test -->" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_the_constraints_hold_every_dependency_within_its_bounds() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"].values()
    texts = [*project["dependencies"], *(one for extra in extras for one in extra)]
    wanted = [one for one in map(Requirement, texts) if one.name != "presolder"]
    lines = (ROOT / ".constraints" / "python.txt").read_text(encoding="utf-8").splitlines()
    pinned = dict(line.split("==") for line in lines if not line.startswith("#"))
    versions = {_plain(name): version for name, version in pinned.items()}
    assert len(wanted) > 20
    assert not [one for one in wanted if versions[_plain(one.name)] not in one.specifier]


def _plain(name: str) -> str:
    """Return a package's name in the form for comparison."""
    return re.sub(r"[-_.]+", "-", name).lower()


def test_ci_installs_the_constraints() -> None:
    assert 'PIP_CONSTRAINT="$PWD/.constraints/python.txt"' in (ROOT / ".ci" / "run").read_text(
        encoding="utf-8"
    )


def test_cautions_are_where_people_start() -> None:
    for word in ("flux fume", "residual-current", "local codes", "licensed technician", "Start quiet"):
        assert word in README


# --- all pages


def paths_in(page: str) -> Iterator[str]:
    """Return the words of a page that look like a path of this repository."""
    for quoted in re.findall(r"`([^`\n]+)`", PAGES[page]):
        for word in quoted.split():
            if re.fullmatch(r"[\w.*-]+(/[\w.*-]+)+/?", word) and not word.startswith((".venv", "-", "..")):
                yield word.rstrip("/")


OUTSIDE = {
    "dsp/README.md": set(),
    "server/README.md": set(),
    "tests/README.md": {"tests/browser/pictures"},
}
"""Paths that a run makes."""


@pytest.mark.parametrize(
    ("page", "path"), sorted({(page, path) for page in PAGES for path in paths_in(page)})
)
def test_paths_in_the_pages_exist(page: str, path: str) -> None:
    homes = (ROOT, ROOT / page.rpartition("/")[0])
    made = path in OUTSIDE.get(page, ())
    assert made or any((home / path).exists() or list(home.glob(path)) for home in homes)


def links_in(page: str) -> Iterator[str]:
    """Return the targets of a page's links, except those to other sites."""
    for target in re.findall(r"\]\(([^)\s]+)\)", PAGES[page]):
        if "://" not in target:
            yield target


@pytest.mark.parametrize(
    ("page", "link"), sorted({(page, link) for page in PAGES for link in links_in(page)})
)
def test_links_between_the_pages_resolve(page: str, link: str) -> None:
    target, _, anchor = link.partition("#")
    file = (ROOT / page).parent / target if target else ROOT / page
    assert file.exists()
    if anchor:
        assert anchor in {_anchor(line) for line in file.read_text(encoding="utf-8").splitlines()}


def _anchor(line: str) -> str:
    """Return the anchor of a heading, or an empty text for another line."""
    match = re.fullmatch(r"#+ (.+)", line)
    words = re.sub(r"[^\w\- ]", "", match[1].lower()) if match else ""
    return words.replace(" ", "-")


def test_every_page_is_linked_from_the_map_or_the_readme() -> None:
    linked = {link.partition("#")[0] for page in ("README.md", "DEVELOPERS.md") for link in links_in(page)}
    assert set(PAGES) - {"README.md"} <= linked


def test_no_page_of_the_repository_is_left_out() -> None:
    words = ("git", "-c", f"safe.directory={ROOT}", "ls-files", "*.md")
    found = set(subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=True).stdout.split())
    assert found == set(PAGES)


def test_the_map_names_every_room() -> None:
    place = PAGES["DEVELOPERS.md"].split("## The law")[0]
    rows = re.findall(r"^ {4,}(\w+)/? ", place, re.MULTILINE)
    assert rooms_of("dsp") <= set(rows)
    words = set(re.findall(r"[a-z_]+", place))
    assert rooms_of("server") | rooms_of("web/js") | rooms_of("tests") <= words


@pytest.mark.parametrize("part", ["dsp", "server"])
def test_the_page_of_a_part_names_its_rooms(part: str) -> None:
    rows = re.findall(r"^\| (`\w+`(?:, `\w+`)*) \|", PAGES[f"{part}/README.md"], re.MULTILINE)
    named = {name for row in rows for name in re.findall(r"\w+", row)}
    assert rooms_of(part) - {"commands"} == named - {"commands"}


def rooms_of(part: str) -> set[str]:
    """Return the folders of a part that git would keep."""
    left_out = {"node_modules", "__pycache__"}
    return {
        path.name
        for path in (ROOT / part).iterdir()
        if path.is_dir() and path.name not in left_out and path.name[0] not in "_."
    }


# --- docstrings


def public_nodes() -> Iterator[tuple[str, ast.FunctionDef | ast.ClassDef]]:
    """Yield every public class, function and method of dsp and server with place and name."""
    for path in SOURCES:
        yield from _of(ast.parse(path.read_text(encoding="utf-8")), str(path.relative_to(ROOT)))


def _of(node: ast.Module | ast.ClassDef, place: str) -> Iterator[tuple[str, ast.FunctionDef | ast.ClassDef]]:
    for child in node.body:
        if not isinstance(child, ast.FunctionDef | ast.ClassDef) or child.name.startswith("_"):
            continue
        decorators = {ast.unparse(one).split(".")[-1] for one in child.decorator_list}
        overrides = isinstance(node, ast.ClassDef) and place.endswith("_Commands")
        if "overload" in decorators or overrides:
            continue
        yield f"{place} {child.name}", child
        if isinstance(child, ast.ClassDef):
            yield from _of(child, f"{place} {child.name}")


def test_every_public_name_has_a_docstring_with_a_short_first_line() -> None:
    wrong = []
    for place, node in public_nodes():
        first = (ast.get_docstring(node) or "").partition("\n")[0]
        if not first or len(first) > FIRST_LINE or not first.endswith("."):
            wrong.append(f"{place}: {len(first)} '{first}'")
    assert not wrong


def test_every_module_says_what_it_is() -> None:
    without = [
        str(path) for path in SOURCES if not ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert not without


def test_every_array_argument_has_a_documented_shape() -> None:
    """The docstring names every array parameter, or states a shape."""
    wrong = []
    for place, node in public_nodes():
        if not isinstance(node, ast.FunctionDef):
            continue
        text = ast.get_docstring(node) or ""
        for argument in (*node.args.args, *node.args.kwonlyargs):
            kind = ast.unparse(argument.annotation) if argument.annotation else ""
            named = re.search(rf"^{argument.arg}\b[^\n]* : ?", text, re.MULTILINE) or re.search(
                rf"^(\w+, )*{argument.arg}(, \w+)* :", text, re.MULTILINE
            )
            if ARRAYS.search(kind) and not named and "shape" not in text:
                wrong.append(f"{place}({argument.arg}: {kind})")
    assert not wrong


def test_errors_are_documented() -> None:
    """A function that raises says so; a command's usage covers its errors."""
    wrong = []
    for place, node in public_nodes():
        raises = [one for one in ast.walk(node) if isinstance(one, ast.Raise) and one.exc is not None]
        own = isinstance(node, ast.FunctionDef) and not place.startswith("server/commands")
        if own and raises and "Raises" not in (ast.get_docstring(node) or ""):
            wrong.append(place)
    assert not wrong


UNITS = re.compile(r"_(hz|s|db|ohm|f|h|m|dbtp|lufs|deg|volt)$")


def test_plain_numbers_carry_their_unit() -> None:
    """A float parameter has its unit in its name or the docstring; an option has it in its help."""
    wrong = []
    for place, node in public_nodes():
        if place.startswith("server/commands"):
            continue
        text = ast.get_docstring(node) or ""
        arguments = [*node.args.args, *node.args.kwonlyargs] if isinstance(node, ast.FunctionDef) else []
        for argument in arguments:
            kind = ast.unparse(argument.annotation) if argument.annotation else ""
            mentioned = re.search(rf"\b{argument.arg}\b", text)
            if kind in ("float", "float | None") and not UNITS.search(argument.arg) and not mentioned:
                wrong.append(f"{place}({argument.arg})")
    assert not wrong


def test_every_returned_array_has_a_documented_shape() -> None:
    wrong = [
        place
        for place, node in public_nodes()
        if isinstance(node, ast.FunctionDef)
        and node.returns is not None
        and ARRAYS.search(ast.unparse(node.returns))
        and "shape" not in (ast.get_docstring(node) or "")
    ]
    assert not wrong


# --- rows without content

SECTION = re.compile(r"^(Parameters|Attributes|Returns|Yields)\n-+\n((?:.+\n|\n+(?= ))*)", re.MULTILINE)


def rows_of(text: str) -> Iterator[tuple[str, str, bool]]:
    """Yield section, row and whether a description follows, for each row of a numpydoc docstring."""
    for section in SECTION.finditer(text + "\n"):
        rows = [part for part in re.split(r"\n(?=\S)", section[2]) if part.strip()]
        for row in rows:
            head, _, description = row.partition("\n")
            kept_for_others = section[1] in ("Returns", "Yields") and len(rows) > 1
            yield section[1], head, bool(description.strip()) or kept_for_others


def repeats_annotation(section: str, head: str) -> bool:
    """Return whether a row without a description holds a type alone: no shape, unit, range or choice."""
    kind = head.partition(" : ")[2] or (head if section in ("Returns", "Yields") else "")
    if re.search(r"shape|ndarray|[{}]", kind):
        return False
    return "," not in re.sub(r", optional$|\([^()]*\)|\[[^\[\]]*\]", "", kind)


def test_no_row_only_repeats_the_annotation() -> None:
    wrong = [
        f"{place}: {head}"
        for place, node in public_nodes()
        for section, head, described in rows_of(ast.get_docstring(node) or "")
        if not described and repeats_annotation(section, head)
    ]
    assert not wrong, wrong[:5]


def test_a_row_that_repeats_is_found() -> None:
    rows = "name : str\nlevel : float, dB\nx : ndarray, shape (n,)\ny : int\n    From 1.\n"
    text = f"Do.\n\nParameters\n----------\n{rows}"
    found = [head for section, head, said in rows_of(text) if not said and repeats_annotation(section, head)]
    assert found == ["name : str"]


def test_the_walk_finds_enough() -> None:
    """A check of nothing would pass too."""
    names = {place for place, _ in public_nodes()}
    assert len(names) > 200
    assert "dsp/circuit/response.py respond" in names
    assert "dsp/wiring/model.py Wiring setting" in names
    assert isinstance(main, click.Group)
