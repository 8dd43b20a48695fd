"""Run pure modules of the page on the server, so that a picture is drawn by one program in both places.

The engine knows no modules. Each module becomes a function with its own scope that returns its exports.
"""

from __future__ import annotations

import json
import posixpath
import re
from functools import cache
from typing import Any

from server.files.packaged import web_text

IMPORT = re.compile(r'^import \{([^}]*)\} from "(\.{1,2}/[\w/.]+\.js)";\n', re.MULTILINE)
EXPORT = re.compile(r"^export (?=(?:const|class|(?:async )?function) (\w+))", re.MULTILINE)
_STRANGE = re.compile(r"^(?:import|export)\b.*$", re.MULTILINE)
_COMMENTS = re.compile(r"^[ \t]*/\*\*(?:(?!\*/).)*\*/\n", re.MULTILINE | re.DOTALL)


def as_function(text: str, name: str, registry: str = "modules") -> str:
    """Return a module as a statement that registers its exports.

    Parameters
    ----------
    text : str
        The module. It may use ``import { a, b } from "./c.js"`` and ``export const``, ``class``,
        ``function`` and ``async function``.
    name : str
        Its path in the web folder.
    registry : str
        The variable with the modules loaded before.

    Raises
    ------
    ValueError
        If it imports or exports in another way.
    """
    code = _COMMENTS.sub("", text)

    def load(found: re.Match[str]) -> str:
        path = posixpath.normpath(posixpath.join(posixpath.dirname(name), found[2]))
        names = found[1].replace(" as ", ": ")
        return f"const {{{names}}} = {registry}[{json.dumps(path)}];\n"

    exports = EXPORT.findall(code)
    body = EXPORT.sub("", IMPORT.sub(load, code))
    if strange := _STRANGE.search(body):
        raise ValueError(f"{name}: {strange[0]}: allowed: import {{ … }} from, export const, class, function")
    return f"{registry}[{json.dumps(name)}] = (() => {{\n{body}\nreturn {{{', '.join(exports)}}};\n}})();\n"


def modules_of(name: str) -> list[str]:
    """Return a module and all that it imports, each after its imports."""
    found: list[str] = []

    def visit(path: str) -> None:
        if path in found:
            return
        for _, imported in IMPORT.findall(_COMMENTS.sub("", web_text(path))):
            visit(posixpath.normpath(posixpath.join(posixpath.dirname(path), imported)))
        found.append(path)

    visit(name)
    return found


@cache
def script_of(name: str) -> str:
    """Return a module and its imports as one script."""
    return "const modules = {};\n" + "".join(as_function(web_text(one), one) for one in modules_of(name))


def call_module(name: str, function: str, argument: Any) -> Any:
    """Call a module's function with one plain value; return its result.

    Parameters
    ----------
    name : str
        The module's path in the web folder, such as ``js/drawing/document.js``.
    argument : Any
        What JSON can hold.
    """
    from py_mini_racer import MiniRacer  # the engine is large, and most commands draw nothing

    code = f"JSON.stringify(modules[{json.dumps(name)}].{function}({json.dumps(argument)}))"
    # An engine that is still open when Python ends may keep it from ending: each call closes its own.
    with MiniRacer() as engine:
        engine.eval(script_of(name))
        return json.loads(str(engine.eval(code)))
