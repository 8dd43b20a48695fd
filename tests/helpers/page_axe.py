"""What axe-core finds in a page."""

from __future__ import annotations

from typing import Any

from browser_fixtures import axe_script
from playwright.sync_api import Page

TAGS = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
COLOURS = ("color-contrast", "link-in-text-block")
"""Rules of axe-core that depend on the scheme. A page that has passed all needs these alone in the other."""
SERIOUS = ("serious", "critical")
RUN = """([part, only]) => axe.run(part ? document.querySelector(part) : document,
  { runOnly: only, resultTypes: ["violations"] })"""
"""Only what is violated is described in full: describing what passes takes two thirds of the time."""


def find_violations(page: Page, part: str = "", *, colours: bool = False, mild: bool = False) -> list[str]:
    """Return what axe-core finds.

    Parameters
    ----------
    part : str
        Selector of what is looked at; the whole page if empty.
    colours : bool
        Whether only the rules that depend on the scheme are tried.
    mild : bool
        Whether findings that are not serious count too.
    """
    if not page.evaluate("'axe' in window"):
        page.evaluate(axe_script().read_text(encoding="utf-8"))
    found: dict[str, Any] = page.evaluate(RUN, [part, COLOURS if colours else TAGS])
    assert found["passes"] or found["violations"] or found["incomplete"], "axe checked nothing"
    return [_text(one) for one in found["violations"] if mild or one["impact"] in SERIOUS]


def _text(violation: dict[str, Any]) -> str:
    nodes = "; ".join(f"{node['target']} {node['failureSummary']}" for node in violation["nodes"][:4])
    return f"{violation['impact']} {violation['id']}: {nodes}"
