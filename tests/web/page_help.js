/**
 * A page without a browser: as much of its elements as `shared/dom.js` and the dialogs use. What they look
 * like, and all that a browser does by itself, is left to tests/browser.
 */

class Piece {
  /** @type {Element | null} */
  parent = null;
  get isConnected() {
    return this.parent !== null && (this.parent === document.body || this.parent.isConnected);
  }
}

class Text extends Piece {
  constructor(text) {
    super();
    this.textContent = text;
  }
}

class Element extends Piece {
  kids = [];
  attributes = new Map();
  heard = new EventTarget();
  style = {
    setProperty(name, value) {
      this[name] = value;
    },
  };
  volume = 1;

  constructor(tag) {
    super();
    this.tag = tag;
    if (["input", "select", "option", "textarea", "progress"].includes(tag)) this.value = "";
    this.checked = false;
    const { attributes } = this;
    const names = () => new Set((attributes.get("class") ?? "").split(" ").filter(Boolean));
    this.classList = {
      contains: (name) => names().has(name),
      toggle(name, is) {
        const now = names();
        now[is ? "add" : "delete"](name);
        attributes.set("class", [...now].join(" "));
      },
    };
    this.dataset = new Proxy({}, { get: (_, name) => attributes.get(`data-${String(name)}`) });
  }
  get children() {
    return this.kids.filter((kid) => kid instanceof Element);
  }
  get options() {
    return this.children;
  }
  get textContent() {
    return this.kids.map((kid) => kid.textContent).join("");
  }
  set textContent(text) {
    this.replaceChildren(text);
  }
  append(...kids) {
    for (const kid of kids) {
      const piece = kid instanceof Piece ? kid : new Text(String(kid));
      piece.parent = this;
      this.kids.push(piece);
    }
  }
  replaceChildren(...kids) {
    for (const kid of this.kids) kid.parent = null;
    this.kids = [];
    this.append(...kids);
  }
  remove() {
    if (this.parent) this.parent.kids = this.parent.kids.filter((kid) => kid !== this);
    this.parent = null;
  }
  setAttribute(name, value) {
    this.attributes.set(name, String(value));
  }
  getAttribute(name) {
    return this.attributes.get(name) ?? null;
  }
  toggleAttribute(name, is) {
    if (is) this.attributes.set(name, "");
    else this.attributes.delete(name);
  }
  addEventListener(kind, act) {
    this.heard.addEventListener(kind, act);
  }
  /** Every element inside. */
  all() {
    return this.children.flatMap((kid) => [kid, ...kid.all()]);
  }
  /** By one class alone. */
  querySelectorAll(selector) {
    return this.all().filter((one) => selector.startsWith(".") && one.classList.contains(selector.slice(1)));
  }
  querySelector(selector) {
    return this.querySelectorAll(selector)[0] ?? null;
  }
  focus() {
    document.activeElement = this;
  }
  pause() {}
  showModal() {}
  close() {
    if (this.isConnected) tell(this, "close");
  }
}
for (const name of ["hidden", "disabled"])
  Object.defineProperty(Element.prototype, name, {
    get() {
      return this.attributes.has(name);
    },
    set(is) {
      this.toggleAttribute(name, is);
    },
  });

/** An event at an element; whether its default is prevented. */
export function tell(element, kind) {
  const event = new Event(kind, { cancelable: true });
  Object.defineProperty(event, "target", { value: element });
  element.heard.dispatchEvent(event);
  return event.defaultPrevented;
}

/** Press the button with these words, the topmost one, unless it is disabled or hidden. */
export function press(place, words) {
  const button = place.all().findLast((one) => one.tag === "button" && one.textContent === words);
  if (!button) throw new Error(`no button “${words}” in “${place.textContent}”`);
  for (let at = button; at; at = at.parent) if (at.hidden) throw new Error(`“${words}” is hidden`);
  if (button.disabled) throw new Error(`“${words}” is disabled`);
  tell(button, "click");
}

/** The first element with a tag or an attribute's value. */
export const find = (place, tag, name, value) =>
  place.all().find((one) => one.tag === tag && (!name || one.getAttribute(name) === value));

/** Let everything that waits for promises alone go on. */
export const settle = () => new Promise((done) => setImmediate(done));

const body = new Element("body");
const document = {
  body,
  activeElement: body,
  createElement: (tag) => new Element(tag),
  createElementNS: (_, tag) => new Element(tag),
  addEventListener() {},
};
Object.assign(globalThis, {
  document,
  window: globalThis,
  Node: Piece,
  HTMLElement: Element,
  SVGElement: class {},
  isSecureContext: true,
  requestAnimationFrame: () => 0,
  cancelAnimationFrame() {},
});
