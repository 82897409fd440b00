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

export function fill(node, ...children) {
  const fresh = [];
  for (const child of children.flat(3))
    if (child !== null && child !== undefined && child !== false) fresh.push(child);
  node.replaceChildren(...fresh);
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
