"""The script of the listing's page: the page's own modules, joined into one scope."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections import Counter
from pathlib import Path

import pytest

from server.files.packaged import web_text
from server.listings.making.page import SCRIPTS, join_scripts, plain_script

TOP_NAME = re.compile(r"^(?:export )?(?:async )?(?:const|let|class|function) (\w+)", re.MULTILINE)
"""The first name of each declaration at a module's top level."""

IMPORT = re.compile(r'^import \{(?P<names>[^}]*)\} from "(?P<address>[^"]+)";', re.MULTILINE)


def test_no_name_is_declared_twice() -> None:
    names = Counter(name for module in SCRIPTS for name in TOP_NAME.findall(web_text(module)))
    assert {"createClips", "layOutPlot", "loadSound", "start"} <= set(names), "the walk found too few names"
    assert [name for name, count in names.items() if count > 1] == []


def test_every_import_comes_before() -> None:
    for k, module in enumerate(SCRIPTS):
        for found in IMPORT.finditer(web_text(module)):
            path = (Path("/") / module).parent / found["address"]
            imported = str(Path(*[part for part in path.resolve().parts if part != "/"]))
            assert imported in SCRIPTS[:k], f"{module} imports {imported}"
            assert " as " not in found["names"], f"{module} renames what it imports"


def test_the_script_is_not_a_module_and_cannot_leave_its_element() -> None:
    script = join_scripts()
    assert not re.search(r"^(?:import|export)\b", script, re.MULTILINE)
    assert not re.search(r"</script|<!--", script, re.IGNORECASE)
    module = '/** About a. */\nimport {\n  a,\n} from "./b.js";\n\n/**\n * Of c.\n */\nexport const c = 1;\n'
    assert plain_script(module) == "\nconst c = 1;\n"


def test_the_script_parses(tmp_path: Path) -> None:
    """The parser also finds a name declared twice."""
    node = shutil.which("node")
    if node is None:
        pytest.skip("node is missing")
    path = tmp_path / "page.cjs"
    path.write_text(f'"use strict";\n(() => {{\n{join_scripts()}\n}})();\n')
    done = subprocess.run([node, "--check", str(path)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    path.write_text(f'"use strict";\n(() => {{\n{join_scripts()}\nconst createClips = 1;\n}})();\n')
    done = subprocess.run([node, "--check", str(path)], capture_output=True, text=True, check=False)
    assert "has already been declared" in done.stderr
