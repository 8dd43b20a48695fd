"""Read YAML texts into trees that know their lines.

Only the parser's composed nodes are used, never its constructors: a scalar stays the text that
was written, and no tag can run code. Size, depth and number of nodes are limited before the tree
is built.
"""

from __future__ import annotations

import functools
import re
from pathlib import Path
from typing import Any

from dsp.documents.tree import Entries, Items, Node, Text
from dsp.errors import InputError, Problem
from server.files.whole import reason

LARGEST = 64 * 1024
"""Bytes; ten times the longest wiring file that anyone would write by hand."""
LONGEST_LINE = 4096
"""Characters; the parser's time grows with the square of a line's length."""
LARGEST_KEPT = 16 * 1024
"""Characters of the longest text whose tree is kept."""
DEEPEST = 40
MOST_NODES = 20_000
ALLOWED = "a YAML 1.2 text file"
SLIPS = (
    ("'\\t'", "a tab", "spaces: YAML indents with spaces only", ""),
    (
        "expected <block end>",
        "a line indented unlike those above it",
        "names of one map, and dashes of one list, right below one another",
        "",
    ),
    (
        "mapping values are not allowed",
        "a colon where none can stand",
        "one name: value a line",
        "is a space missing after a colon above, or are quotes missing round a text with a colon?",
    ),
    ("expected ',' or", "a list or map in brackets that does not end", ALLOWED, "is a ] or } missing?"),
    ("unexpected end of stream", "a quote that does not end", ALLOWED, "is a quote missing?"),
    ("cannot start any token", "a sign that no value starts with", ALLOWED, "put the text in quotes"),
)
"""Common mistakes by a phrase of the parser's message: got, allowed, hint."""
TAGS = tuple(f"tag:yaml.org,2002:{kind}" for kind in ("str", "seq", "map"))
"""Tags of values without a tag of their own."""
ODD = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")
"""Characters that no text holds (YAML 1.2.2, section 5.1); an escape such as "\\x07" can still write them."""


def read_text(path: Path) -> str:
    """Return the text of a small file.

    Raises
    ------
    InputError
        If it is missing, a folder, unreadable, too large, binary, or not UTF-8.
    """
    try:
        if path.exists() and not path.is_file():
            got = "a folder" if path.is_dir() else "a pipe or device"
            raise InputError(str(path), got, "a text file")
        with path.open("rb") as file:
            raw = file.read(LARGEST + 1)
    except OSError as error:
        raise InputError(str(path), reason(error), "a file that can be read") from error
    if len(raw) > LARGEST:
        raise InputError(str(path), f"more than {LARGEST // 1024} KiB", f"at most {LARGEST // 1024} KiB")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise InputError(f"{path}:{line}", f"byte {raw[error.start]:#04x}", f"{ALLOWED} in UTF-8") from error
    odd = ODD.search(text)
    if odd is not None:
        line = text[: odd.start()].count("\n") + 1
        raise InputError(f"{path}:{line}", f"control character {ord(odd[0]):#04x}", ALLOWED)
    return text


def parse_tree(text: str, file: str) -> Node:
    """Return the tree of a YAML text.

    Parameters
    ----------
    file : str
        Name for errors.

    Raises
    ------
    InputError
        If it is empty, not YAML, several documents, or beyond a limit; for duplicate keys and
        tags, all of them together.
    """
    return _kept(text, file) if len(text) <= LARGEST_KEPT else _parsed(text, file)


def _parsed(text: str, file: str) -> Node:
    node = composed(text, file)
    if node is None:
        raise InputError(f"{file}:1", "an empty file", ALLOWED)
    builder = _Builder(file)
    tree = builder.build(node, 0)
    if builder.problems:
        raise InputError.of(builder.problems)
    return tree


_kept = functools.lru_cache(maxsize=32)(_parsed)
"""Trees of the texts read last; a wiring's takes 10 ms to parse, and every request names its text again."""


def load_tree(path: Path) -> Node:
    """Return the tree of a file; see `read_text` and `parse_tree`."""
    return parse_tree(read_text(path), str(path))


def composed(text: str, file: str) -> Any:
    """Return the parser's root node, None for an empty text.

    Parameters
    ----------
    file : str
        Name for errors.

    Raises
    ------
    InputError
    """
    from ruamel.yaml import YAML
    from ruamel.yaml.error import MarkedYAMLError, YAMLError

    _refuse_depth(text, file)
    yaml = YAML(typ="safe", pure=True)
    yaml.allow_duplicate_keys = True
    yaml.Resolver = plain_resolver()
    try:
        return yaml.compose(text)
    except MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + 1 if mark else 1
        raise InputError(f"{file}:{line}", *_in_words(str(error.problem or error.context))) from error
    except (YAMLError, ValueError, RecursionError) as error:
        raise InputError(f"{file}:1", type(error).__name__, ALLOWED) from error


def _in_words(problem: str) -> tuple[str, str, str]:
    """Turn the parser's message into got, allowed and hint."""
    for sign, *words in SLIPS:
        if sign in problem:
            got, allowed, hint = words
            return got, allowed, hint
    return " ".join(problem.split()), ALLOWED, ""


def plain_resolver() -> Any:
    """Return a resolver that reads every plain scalar as text.

    It knows no dates, nulls, numbers or merges: a value's meaning depends on its field.
    """
    from ruamel.yaml.resolver import VersionedResolver

    class Plain(VersionedResolver):  # type: ignore[misc,unused-ignore]
        versioned_resolver = property(lambda self: {})

    return Plain


def _refuse_depth(text: str, file: str) -> None:
    """Refuse deeply nested brackets before the parser's recursion meets them."""
    depth = 0
    for number, line in enumerate(text.splitlines(), 1):
        opened = line.count("[") + line.count("{")
        depth += opened - line.count("]") - line.count("}")
        if len(line) > LONGEST_LINE:
            got, allowed = f"a line of {len(line)} characters", f"at most {LONGEST_LINE} in a line"
            raise InputError(f"{file}:{number}", got, allowed)
        if max(depth, opened) > 20 * DEEPEST or len(line) - len(line.lstrip()) > 100 * DEEPEST:
            raise InputError(f"{file}:{number}", "lists and maps nested very deep", f"at most {DEEPEST} deep")


class _Builder:
    """Build a tree from composed nodes, and count them."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.count = 0
        self.problems: list[Problem] = []

    def build(self, node: Any, depth: int) -> Node:
        line = node.start_mark.line + 1
        where = f"{self.file}:{line}"
        self.count += 1
        if self.count > MOST_NODES:  # an alias counts at each use
            raise InputError(where, "more values than can be meant", f"at most {MOST_NODES} in a file")
        if depth > DEEPEST:
            raise InputError(where, "lists and maps nested very deep", f"at most {DEEPEST} deep")
        if node.tag and str(node.tag) not in TAGS:
            self.problems.append(Problem(where, f"the tag {node.tag}", "plain values without tags"))
        if node.id == "scalar":
            if odd := ODD.search(str(node.value)):
                self.problems.append(Problem(where, f"control character {ord(odd[0]):#04x}", "readable text"))
            return Text(str(node.value), line)
        if node.id == "sequence":
            return Items(tuple(self.build(item, depth + 1) for item in node.value), line)
        return self._map(node, depth, line)

    def _map(self, node: Any, depth: int, line: int) -> Entries:
        entries: list[tuple[Text, Node]] = []
        seen: dict[str, int] = {}
        for key_node, value_node in node.value:
            key = self.build(key_node, depth + 1)
            value = self.build(value_node, depth + 1)
            where = f"{self.file}:{key.line}"
            if not isinstance(key, Text):
                self.problems.append(Problem(where, key.describe(), "a name before the colon"))
                continue
            if key.text in seen:
                allowed = f"each name once; it stands already on line {seen[key.text]}"
                self.problems.append(Problem(where, f"{key.describe()} again", allowed))
                continue
            seen[key.text] = key.line
            if value == Text("", value.line):  # nothing written: the parser went on to the next line
                value = Text("", key.line)
            entries.append((key, value))
        return Entries(tuple(entries), line)


TAKE_FILES = (".yaml", ".yml")
