/* dom: elements from code. Text is always set as text: nothing that came from a file, a board or a
 * journal is ever read as markup. */

export const byId = (id) => document.getElementById(id);

/* h("button.go", {onclick, disabled}, "Go on"): a tag with classes, properties or attributes, children
 * (nodes, text, or null). */
export function h(name, props, ...children) {
  const [tag, ...classes] = name.split(".");
  const node = document.createElement(tag);
  if (classes.length) node.className = classes.join(" ");
  set(node, props);
  add(node, children);
  return node;
}

export function svg(tag, attributes, ...children) {
  const node = document.createElementNS("http://www.w3.org/2000/svg", tag);
  for (const [name, value] of Object.entries(attributes ?? {})) node.setAttribute(name, value);
  add(node, children);
  return node;
}

function set(node, props) {
  for (const [name, value] of Object.entries(props ?? {})) {
    if (value === undefined || value === null) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (name === "colour") node.style.setProperty("--colour", value);
    else if (name in node && !name.startsWith("aria")) node[name] = value;
    else node.setAttribute(name, value);
  }
}

function add(node, children) {
  for (const child of children.flat(3))
    if (child !== null && child !== undefined && child !== false) node.append(child);
}

/* What had the focus keeps it, where the new content has the like of it. */
export function fill(node, ...children) {
  const fresh = [], held = node.contains(document.activeElement) ? likeness(document.activeElement) : null;
  for (const child of children.flat(3))
    if (child !== null && child !== undefined && child !== false) fresh.push(child);
  node.replaceChildren(...fresh);
  if (held) [...node.querySelectorAll("button, input, select, summary, [tabindex]")].find((e) => likeness(e) === held)?.focus();
}

const likeness = (e) => `${e.tagName} ${e.type ?? ""} ${e.getAttribute("aria-label") ?? e.labels?.[0]?.textContent ?? e.textContent}`;

/* A press ------------------------------------------------------------------------------------- */

/* Between the press of a button and its release the page stays as it is: what is built anew meanwhile
 * would take the click along with the old button. */
let pressed = false, late = [];
function release() {
  setTimeout(() => {
    pressed = false;
    const due = late;
    late = [];
    for (const what of due) what();
  }, 0);
}
addEventListener("pointerdown", () => { pressed = true; }, true);
for (const name of ["pointerup", "pointercancel"]) addEventListener(name, release, true);
addEventListener("blur", release); // the window's own
addEventListener("keydown", (e) => { if (e.key === " " || e.key === "Enter") pressed = true; }, true);
addEventListener("keyup", release, true);

/* Now, or after the press under way. */
export function whenFree(what) {
  if (!pressed) what();
  else if (!late.includes(what)) late.push(what);
}

let count = 0;
export const freshId = (stem) => `${stem}-${++count}`;

/* What is hidden until it is wanted. */
export function fold(title, ...children) {
  return h("details.fold", null, h("summary", null, title), h("div.folded", null, ...children));
}

export function button(text, onclick, props) {
  return h(props?.main ? "button.go" : "button", { type: "button", onclick, ...props, main: undefined }, text);
}

export function tick(text, onchange, checked = false) {
  const box = h("input", { type: "checkbox", checked, onchange: () => onchange?.(box.checked) });
  return Object.assign(h("label.tick", null, box, h("span", null, text)), { box });
}
