"""The drawing on the bench, by mouse: lugs, wires and parts at the pixels where they are drawn."""

from __future__ import annotations

from browser_fixtures import until
from playwright.sync_api import Page

ON_SCREEN = """
async ([what, name]) => {
  const frame = () => new Promise((done) => setTimeout(done, 40));
  let before = '';
  for (;;) {
    const one = document.querySelector(`.board-picture [data-${what}='${CSS.escape(name)}']`);
    if (!one) { // it is drawn anew
      await frame();
      continue;
    }
    const dot = one.querySelector('circle') ?? one;
    const [seen, here] = [dot.closest('.board-frame'), dot].map((part) => part.getBoundingClientRect());
    dot.closest('.board-frame').scrollBy(here.left - seen.left - seen.width / 2, 0);
    dot.scrollIntoView({ block: 'center', inline: 'nearest' });
    const box = dot.getBoundingClientRect();
    const at = [box.left + box.width / 2, box.top + box.height / 2];
    const top = document.elementFromPoint(...at);
    if (`${at}` === before && top?.closest('.board-picture')) return at;
    before = `${at}`;
    await frame();
  }
}
"""
WAY = """
async (key) => {
  for (let tries = 0; tries < 50; tries++) {
    const path = document.querySelector(`.board-picture [data-wire='${CSS.escape(key)}'] .hit`);
    path?.scrollIntoView({ block: 'center', inline: 'nearest' });
    const to = path?.getScreenCTM();
    for (let share = 0.5; to && share < 0.95; share += 0.05) {
      const { x, y } = path.getPointAtLength(share * path.getTotalLength()).matrixTransform(to);
      if (document.elementFromPoint(x, y)?.closest('[data-wire]')?.dataset.wire === key) return [x, y];
    }
    await new Promise((done) => setTimeout(done, 40)); // it is drawn anew
  }
  throw new Error(`${key} is hidden`);
}
"""
JOINTS = """
() => {
  const found = {};
  for (const lug of document.querySelectorAll('.board-picture [data-lug]')) {
    const { lug: name, joint } = lug.dataset;
    if (joint !== undefined) (found[joint] ??= []).push(name);
  }
  return Object.values(found).map((joint) => joint.sort());
}
"""


def lug_at(page: Page, terminal: str) -> tuple[float, float]:
    """Return where a lug is on the screen, scrolled into view."""
    x, y = page.evaluate(ON_SCREEN, ["lug", terminal])
    return float(x), float(y)


def tap_lug(page: Page, terminal: str) -> None:
    """Click on a lug."""
    page.mouse.click(*lug_at(page, terminal))


def tap_wire(page: Page, key: str) -> None:
    """Click on a wire where nothing covers it; its key names its ends."""
    page.locator(f".board-picture [data-wire='{key}']").wait_for()
    x, y = page.evaluate(WAY, key)
    page.mouse.click(x, y)


def drawn_joints(page: Page) -> list[list[str]]:
    """Return the joints as the drawing has them."""
    found: list[list[str]] = page.evaluate(JOINTS)
    return sorted(found)


def until_one_joint(page: Page, first: str, second: str) -> None:
    """Wait until the drawing has two terminals in one joint."""
    lug = ".board-picture [data-lug='{}']"
    ends = " , ".join(
        f"document.querySelector({lug.format(one)!r})?.dataset.joint" for one in (first, second)
    )
    until(page, f"((a, b) => a !== undefined && a === b)({ends})")


def solder(page: Page, first: str, second: str) -> None:
    """Solder two lugs on the drawing, and wait until it has them in one joint."""
    tap_lug(page, first)
    tap_lug(page, second)
    until_one_joint(page, first, second)


def add_part(page: Page, title: str, name: str) -> None:
    """Add a part from the drawing's tray, and wait until it is drawn and chosen."""
    tray = page.locator(".board-tray")
    if not tray.is_visible():
        page.locator(".board-tools").get_by_role("button", name="Add a part").click()
    tray.get_by_role("button", name=title, exact=True).click()
    page.locator(f".board-picture [data-drawn='{name}']").first.wait_for()
    page.locator(".board-card").get_by_role("heading").wait_for()


WAYS = """
async ([from, to]) => {
  const { nextLug, ARROWS } = await import('/web/js/bench/drawing_keys.js');
  const lugs = [...document.querySelectorAll('.board-picture [data-lug]')].map((one) => {
    const [x, y] = ['cx', 'cy'].map((name) => Number(one.querySelector('.pad').getAttribute(name)));
    return { terminal: one.dataset.lug, x, y };
  });
  const start = lugs.find(({ terminal }) => terminal === from);
  const found = new Map([[start, []]]);
  for (const [lug, way] of found) {
    if (lug.terminal === to) return way;
    for (const [key, arrow] of Object.entries(ARROWS)) {
      const next = nextLug(lugs, lug, arrow);
      if (!found.has(next)) found.set(next, [...way, key]);
    }
  }
  throw new Error(`no way to ${to}`);
}
"""
CURSOR = """
() => {
  const cursor = document.querySelector('.board-picture .cursor:not([hidden])');
  const place = cursor && ['cx', 'cy'].map((name) => Number(cursor.getAttribute(name)));
  const at = place && [...document.querySelectorAll('.board-picture [data-lug]')].find((one) => {
    const pad = one.querySelector('.pad');
    return ['cx', 'cy'].every((name, k) => Math.abs(Number(pad.getAttribute(name)) - place[k]) < 0.1);
  });
  return at?.dataset.lug ?? null;
}
"""


def walk_to(page: Page, terminal: str) -> None:
    """Go to a lug by the arrow keys alone; the drawing has the focus."""
    for _ in range(4):  # a drawing that comes meanwhile changes the way
        if page.evaluate(CURSOR) is None:
            page.keyboard.press("ArrowRight")
        for key in page.evaluate(WAYS, [page.evaluate(CURSOR), terminal]):
            page.keyboard.press(key)
        if page.evaluate(CURSOR) == terminal:
            return
    raise AssertionError(f"the arrow keys do not lead to {terminal}")


def tab_to(page: Page, selector: str, *, back: bool = False) -> None:
    """Press Tab until the focus is on what a selector names."""
    for _ in range(150):
        if page.evaluate("(what) => document.activeElement?.matches(what) ?? false", selector):
            return
        page.keyboard.press("Shift+Tab" if back else "Tab")
    raise AssertionError(f"no tab stop {selector}")
