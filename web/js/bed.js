/* bed: the machine seen from above, to scale. Three canvases: the ground (bed, sheet, reach), the ink
 * (drawn by a worker) and what lies over it (tip, corners). Millimetres grow to the right and away
 * from the maker; pixels grow downwards. */
import { byId, h, fill, button } from "./dom.js";
import { desk, watch, ask, move, isReady, isMoving, isActive } from "./desk.js";
import * as format from "./format.js";
import { job, setTime, onTime } from "./time.js";
import { view, toPx, toMm, bedSize, colour, frame, paintRulers, paintSteps, cross, corner } from "./bed-paint.js";
import { tr } from "./words.js";

const look = { station: "drawing", mode: "ink", half: 0.5, ways: false, selected: null, hover: null };
let worker = null, tip = null, waiting = new Map(), asked = 0;
let ghost = null; // where the tip or the sheet is dragged to: {kind, x, y}
let armed = false, step = 1, onArmed = () => {}, onSelect = () => {}, onPainted = () => {}, take = () => {}, dropText = () => "";

export const bed = { view, look, last: null };
export const onStroke = (what) => { onSelect = what; };
export const onDropped = (what, text) => { [take, dropText] = [what, text]; };
export const onArm = (what) => { onArmed = what; };
export const onPaint = (what) => { onPainted = what; };

/* View ---------------------------------------------------------------------------------------- */

function finest() {
  return 1 / Math.max(...(desk.machine?.steps_per_mm ?? [50]));
}

function bounds() {
  const [w, h] = bedSize(), paper = desk.drawing?.paper ?? [0, 0, w, h];
  return [Math.min(0, paper[0]), Math.min(0, paper[1]), Math.max(w, paper[2]), Math.max(h, paper[3])];
}

function fitView() {
  const [x0, y0, x1, y1] = bounds(), small = view.w < 500;
  const side = small ? 30 : 46, top = small ? 50 : 60, bottom = small ? 22 : 30;
  view.scale = Math.min((view.w - 2 * side) / (x1 - x0), (view.h - top - bottom) / (y1 - y0));
  view.x = (view.w - (x0 + x1) * view.scale) / 2;
  view.y = top + (view.h - top - bottom + (y0 + y1) * view.scale) / 2;
  view.fitted = true;
  changed();
}

function zoom(by, at = [view.w / 2, view.h / 2]) {
  const most = 40 / finest(); // a step of the motor is then as wide as a finger
  const scale = Math.max(0.2, Math.min(most, view.scale * by)), k = scale / view.scale;
  view.x = at[0] + (view.x - at[0]) * k;
  view.y = at[1] + (view.y - at[1]) * k;
  view.scale = scale;
  view.fitted = false;
  changed();
}

function pan(dx, dy) {
  view.x += dx;
  view.y += dy;
  view.fitted = false;
  changed();
}

/* How far the sheet lies from where it lay for the ink that is shown, mm: until it is planned anew there the
 * ink goes along. */
function carried() {
  const { ink_paper: was, paper, is_program: program } = desk.drawing ?? {};
  const same = (k) => Math.abs(paper[k + 2] - paper[k] - was[k + 2] + was[k]) < 1e-6;
  if (!was || program || !same(0) || !same(1)) return [0, 0];
  const at = ghost?.kind === "sheet" ? [ghost.x, ghost.y] : paper;
  return [at[0] - was[0], at[1] - was[1]];
}

let due = false;
function changed() {
  if (due) return;
  due = true;
  requestAnimationFrame(() => {
    due = false;
    const [dx, dy] = carried();
    worker.postMessage({ kind: "view", view: { ...view, x: view.x + dx * view.scale, y: view.y - dy * view.scale } });
    paintGround();
    paintOver();
    placeMarks();
  });
}

function resize() {
  const box = byId("bed").getBoundingClientRect();
  if (!box.width) return;
  view.w = Math.round(box.width);
  view.h = Math.round(box.height);
  view.ratio = Math.min(2, devicePixelRatio || 1);
  for (const id of ["bed-ground", "bed-ink", "bed-over"]) // a box may have a fraction of a pixel, a canvas not
    Object.assign(byId(id).style, { width: `${view.w}px`, height: `${view.h}px` });
  for (const id of ["bed-ground", "bed-over"]) {
    byId(id).width = view.w * view.ratio;
    byId(id).height = view.h * view.ratio;
  }
  if (view.fitted) fitView();
  changed();
}

/* Ground -------------------------------------------------------------------------------------- */

/* Where the sheet is shown: it goes along with the hand. */
function sheetPlace() {
  const [x0, y0, x1, y1] = desk.drawing.paper;
  return ghost?.kind === "sheet" ? [ghost.x, ghost.y, ghost.x + x1 - x0, ghost.y + y1 - y0] : desk.drawing.paper;
}

function paintSheet(c) {
  const [x0, y0, x1, y1] = sheetPlace(), m = desk.drawing.margin;
  c.save();
  c.shadowColor = "#0005";
  c.shadowBlur = 8;
  c.shadowOffsetY = 2;
  c.fillStyle = colour("paper");
  c.beginPath();
  frame(c, x0, y0, x1, y1);
  c.fill();
  c.restore();
  if (look.station !== "drawing" || m <= 0) return;
  c.strokeStyle = colour("sheet-line");
  c.setLineDash([2, 4]);
  c.beginPath();
  frame(c, x0 + m, y0 + m, x1 - m, y1 - m);
  c.stroke();
  c.setLineDash([]);
}

function paintGround() {
  const c = byId("bed-ground").getContext("2d");
  c.setTransform(view.ratio, 0, 0, view.ratio, 0, 0);
  c.clearRect(0, 0, view.w, view.h);
  if (!desk.machine || !desk.drawing) return;
  const [w, h] = bedSize();
  c.fillStyle = colour("bed");
  c.strokeStyle = colour("bed-edge");
  c.lineWidth = 3;
  c.beginPath();
  frame(c, 0, 0, w, h);
  c.fill();
  c.stroke();
  paintSheet(c);
  paintArt(c);
  const [x0, y0, x1, y1] = desk.machine.reach;
  c.strokeStyle = colour("reach");
  c.lineWidth = 1;
  c.setLineDash([7, 5]);
  c.beginPath();
  frame(c, x0, y0, x1, y1);
  c.stroke();
  c.setLineDash([]);
}

/* The artwork as the desk painted it, on the sheet; and what of the ink shows beside it. */
const art = new Image();
function paintArt(c) {
  const mode = look.station === "drawing" ? look.mode : "ink", ink = byId("bed-ink");
  const has = mode !== "ink" && desk.drawing.picture > 0 && art.number === desk.drawing.picture && art.naturalWidth > 0;
  const differs = has && mode === "difference", [x0, y0, x1, y1] = sheetPlace();
  const [a, b] = toPx([x0, y1]), [d, e] = toPx([x1, y0]), border = a + (d - a) * look.half;
  byId("bed").classList.toggle("difference", differs);
  byId("bed-invert").hidden = !differs;
  Object.assign(byId("bed-invert").style, { left: `${a}px`, top: `${b}px`, width: `${d - a}px`, height: `${e - b}px` });
  ink.style.visibility = has && mode === "artwork" ? "hidden" : "";
  ink.style.clipPath = has && mode === "half" ? `inset(0 0 0 ${Math.max(0, border).toFixed(1)}px)` : "";
  worker.postMessage({ kind: "show", show: { ground: differs ? desk.drawing.ink_paper : null } });
  if (!has) return;
  c.save();
  c.beginPath();
  c.rect(a, b, mode === "half" ? border - a : d - a, e - b);
  c.clip();
  if (differs) {
    c.fillStyle = "#fff";
    c.fillRect(a, b, d - a, e - b);
  }
  c.drawImage(art, a, b, d - a, e - b);
  c.restore();
}

function loadArt() {
  const { picture } = desk.drawing;
  if (picture === 0 || art.wanted === picture) return;
  art.wanted = picture;
  art.onload = () => {
    art.number = picture;
    changed();
  };
  art.src = `/art.png?number=${picture}`;
}

/* Over the ink ---------------------------------------------------------------------------------- */

const tipPlace = () => desk.session?.placed ? desk.session.tip : null;

function paintOver() {
  const c = byId("bed-over").getContext("2d"), { drawing } = desk;
  c.setTransform(view.ratio, 0, 0, view.ratio, 0, 0);
  c.clearRect(0, 0, view.w, view.h);
  if (!drawing || !desk.machine) return;
  paintSteps(c);
  paintRulers(c, ...bedSize());
  if (drawing.left) corner(c, drawing.left, false);
  if (drawing.right) corner(c, drawing.right, true);
  if (ghost?.kind === "sheet") {
    const [x0, y0, x1, y1] = drawing.paper;
    c.strokeStyle = colour("tip");
    c.lineWidth = 1.5;
    c.setLineDash([6, 5]);
    c.beginPath();
    frame(c, x0, y0, x1, y1); // where it lay
    c.stroke();
    c.setLineDash([]);
  }
  const real = tipPlace();
  if (ghost?.kind === "tip") {
    cross(c, toPx([ghost.x, ghost.y]), false, false);
    if (real) {
      c.beginPath();
      c.setLineDash([5, 5]);
      c.moveTo(...toPx(real));
      c.lineTo(...toPx([ghost.x, ghost.y]));
      c.stroke();
      c.setLineDash([]);
    }
  }
  if (real) cross(c, toPx(real), desk.session.pen_down, true);
  else if (tip && job.scrubbed) cross(c, toPx([tip.x, tip.y]), tip.down, false);
}

/* Marks that can be taken hold of: elements, so that keys and screen readers find them. */
let marks = null;
function makeMarks() {
  const tag = h("div.tag");
  const grip = h("button.grip", { type: "button", title: tr("Drag to move the sheet; arrow keys move it by 1 mm") }, "✥");
  grip.setAttribute("aria-label", tr("Move the sheet: drag, or arrow keys by 1 mm"));
  const turn = h("button.grip", { type: "button", title: tr("Turn the sheet by 90 degrees"), onclick: turnSheet }, "↻");
  turn.setAttribute("aria-label", tr("Turn the sheet by 90 degrees"));
  const handle = h("button.tip-handle", { type: "button", title: tr("Drag the tip to a new place") });
  handle.setAttribute("aria-label", tr("Pen tip: drag it to a new place"));
  const offer = h("div.offer", { hidden: true });
  fill(byId("bed-marks"), tag, grip, turn, handle, offer);
  marks = { tag, grip, turn, handle, offer };
  grip.addEventListener("keydown", (event) => {
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    if (!way) return;
    event.preventDefault();
    const [x, y] = desk.drawing.paper;
    moveSheet(x + way[0], y + way[1]);
  });
  dragging(grip, "sheet", () => desk.drawing.paper, (x, y) => [Math.round(x), Math.round(y)], moveSheet);
  dragging(handle, "tip", tipPlace, clampToTravel, offerTip);
}

const clampToTravel = (x, y) => {
  const [w, h] = desk.machine.travel;
  return [Math.max(0, Math.min(w, x)), Math.max(0, Math.min(h, y))];
};

function dragging(node, kind, origin, limit, done) {
  node.addEventListener("pointerdown", (event) => {
    const from = origin();
    if (event.button !== 0 || !from || node.disabled) return;
    node.setPointerCapture(event.pointerId);
    const start = [event.clientX, event.clientY];
    let moved = false;
    const follow = (e) => {
      if (!moved && Math.hypot(e.clientX - start[0], e.clientY - start[1]) < 4) return;
      moved = true;
      const [x, y] = limit(from[0] + (e.clientX - start[0]) / view.scale, from[1] - (e.clientY - start[1]) / view.scale);
      ghost = { kind, x, y };
      changed();
    };
    const end = () => {
      node.removeEventListener("pointermove", follow);
      node.removeEventListener("pointerup", end);
      node.removeEventListener("pointercancel", end);
      const last = ghost;
      if (kind === "sheet") ghost = null;
      if (moved && last) done(last.x, last.y);
      changed();
    };
    node.addEventListener("pointermove", follow);
    node.addEventListener("pointerup", end);
    node.addEventListener("pointercancel", end);
  });
}

const moveSheet = (x, y) => ask("set-options", { values: { paper_at: [x, y] } });

function turnSheet() {
  const [x0, y0, x1, y1] = desk.drawing.paper, name = desk.drawing.paper_name ?? "";
  const iso = /^([ABC]\d+)( landscape)?$/i.exec(name);
  const paper = iso ? (iso[2] ? iso[1] : `${iso[1]} landscape`) : `${y1 - y0}x${x1 - x0}`;
  ask("set-options", { values: { paper } });
}

/* A moving tip always says so first. */
function offerTip(x, y) {
  const forget = () => {
    ghost = null;
    marks.offer.hidden = true;
    changed();
  };
  const go = async () => {
    const to = [x, y];
    forget();
    await move("jog", { kind: "to", x: to[0], y: to[1] });
  };
  fill(marks.offer, h("p", null, tr("Move the pen to {0}? Keep clear of the axes.", format.place([x, y]))),
    h("div.row", null, button(tr("Move"), go, { main: true }), button(tr("Leave it"), forget)));
  marks.offer.hidden = false;
  placeMarks();
  marks.offer.querySelector("button").focus();
  changed();
}

function placeMarks() {
  if (!marks || !desk.drawing || !desk.machine) return;
  const real = tipPlace(), { drawing } = desk;
  const put = (node, [x, y], dx, dy) => {
    node.style.transform = `translate(${Math.round(x + dx)}px, ${Math.round(y + dy)}px)`;
  };
  const editable = look.station === "drawing" && !isActive() && drawing.name !== null && !drawing.is_program;
  marks.grip.hidden = marks.turn.hidden = !editable;
  const at = ghost?.kind === "sheet" ? [ghost.x, ghost.y] : drawing.paper;
  put(marks.grip, toPx(at), 0, 4);
  put(marks.turn, toPx(at), 40, 4);
  marks.handle.hidden = !real || !isReady();
  toTip.hidden = !tipShown();
  marks.tag.hidden = !real && !(tip && job.scrubbed);
  const shown = ghost?.kind === "tip" ? [ghost.x, ghost.y] : (real ?? (tip ? [tip.x, tip.y] : null));
  if (!shown) return;
  const [px, py] = toPx(shown);
  put(marks.handle, [px, py], -16, -16);
  const down = real ? desk.session.pen_down : tip?.down;
  const digits = view.scale > 1000 ? 3 : view.scale > 60 ? 2 : 1;
  marks.tag.textContent = ghost?.kind === "tip" ? tr("to {0}", format.place(shown, digits))
    : tr("{0}, pen {1}{2}", format.place(shown, digits), down ? tr("down") : tr("up"), real ? "" : tr(", planned"));
  put(marks.tag, [Math.min(px, view.w - 222), Math.min(py, view.h - 44)], 18, 12);
  put(marks.offer, [Math.min(Math.max(px + 18, 8), view.w - 270), Math.max(8, Math.min(py + 18, view.h - marks.offer.offsetHeight - 10))], 0, 0);
}

/* Asking the worker ------------------------------------------------------------------------------ */

function find(message) {
  return new Promise((resolve) => {
    const id = ++asked;
    waiting.set(id, resolve);
    worker.postMessage({ ...message, id });
  });
}

export async function select(stroke) {
  look.selected = stroke === null ? null : stroke.stroke;
  worker.postMessage({ kind: "show", show: { selected: look.selected } });
  onSelect(stroke);
}

async function pointAt(x, y) {
  const [mx, my] = toMm(x, y), [dx, dy] = carried();
  const stroke = await find({ kind: "find", x: mx - dx, y: my - dy, reach: 10 / view.scale });
  select(stroke ? { ...stroke, place: [mx, my] } : null);
}

/* Keys may come faster than answers. */
let aimed = null;
export async function stepStroke(by) {
  const mine = aimed = Math.max(0, (aimed ?? look.selected ?? (by > 0 ? -1 : 0)) + by);
  const stroke = await find({ kind: "describe", stroke: mine });
  if (mine !== aimed) return;
  aimed = null;
  if (stroke) select({ ...stroke, place: [stroke.x, stroke.y] });
}

function heard({ data }) {
  if (data.kind === "painted") {
    tip = data.tip;
    bed.last = data;
    paintOver();
    placeMarks();
    onPainted(data);
  } else if (data.kind === "ink") {
    job.inkNumber = data.number;
    job.summary = data.summary;
    tellTime();
  } else if (data.kind === "found") {
    waiting.get(data.id)?.(data.stroke);
    waiting.delete(data.id);
  }
}

function tellTime() {
  setTime();
}

/* Hands ------------------------------------------------------------------------------------------ */

const touches = new Map();
function hands(node) {
  let began = null, spread = 0;
  const local = (e) => {
    const box = node.getBoundingClientRect();
    return [e.clientX - box.left, e.clientY - box.top];
  };
  node.addEventListener("wheel", (e) => {
    e.preventDefault();
    zoom(Math.exp(-Math.max(-200, Math.min(200, e.deltaY)) * 0.0022), local(e));
  }, { passive: false });
  node.addEventListener("pointerdown", (e) => {
    node.setPointerCapture(e.pointerId);
    touches.set(e.pointerId, local(e));
    began = { at: local(e), moved: false, button: e.button };
  });
  node.addEventListener("pointermove", (e) => {
    const was = touches.get(e.pointerId), now = local(e);
    if (!was) return;
    touches.set(e.pointerId, now);
    if (touches.size === 2) {
      const [a, b] = [...touches.values()], d = Math.hypot(a[0] - b[0], a[1] - b[1]);
      if (spread) zoom(d / spread, [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2]);
      spread = d;
      began.moved = true;
      return;
    }
    if (Math.hypot(now[0] - began.at[0], now[1] - began.at[1]) > 4) began.moved = true;
    if (began.moved) pan(now[0] - was[0], now[1] - was[1]);
  });
  const end = (e) => {
    touches.delete(e.pointerId);
    spread = 0;
    if (e.type === "pointerup" && began && !began.moved && began.button === 0) pointAt(...began.at);
    began = null;
  };
  node.addEventListener("pointerup", end);
  node.addEventListener("pointercancel", end);
  node.addEventListener("keydown", keys);
}

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
async function keys(event) {
  const way = ARROWS[event.key];
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (way && armed) {
    event.preventDefault();
    if (isReady()) await move("jog", { kind: "by", x: way[0] * step, y: way[1] * step });
    return;
  }
  const action = way ? () => pan(-way[0] * 40, way[1] * 40) : {
    "+": () => zoom(1.25), "=": () => zoom(1.25), "-": () => zoom(0.8), "0": fitView,
    PageDown: () => stepStroke(1), PageUp: () => stepStroke(-1),
  }[event.key];
  if (!action) return;
  event.preventDefault();
  action();
}

/* The arrow keys move the machine while they are armed, and a banner says so. */
export function arm(on, mm = step) {
  armed = on;
  step = mm;
  const warning = byId("bed-warning");
  warning.hidden = !on;
  warning.textContent = tr("The arrow keys move the pen by {0} mm. Keep clear of the axes.", mm);
  if (on) byId("bed-focus").focus();
  onArmed(on);
}

export function setLook(change) {
  Object.assign(look, change);
  worker.postMessage({ kind: "show", show: { ways: look.ways } });
  changed();
  showTime();
}

function showTime() {
  worker.postMessage({ kind: "show", show: { t: job.t, pale: look.station !== "drawing" || job.scrubbed } });
}

function dropping() {
  const sign = byId("bed-drop");
  let depth = 0;
  addEventListener("dragenter", (e) => {
    e.preventDefault();
    depth++;
    sign.textContent = dropText();
    sign.hidden = false;
  });
  addEventListener("dragleave", () => { sign.hidden = --depth > 0 ? false : true; });
  addEventListener("dragover", (e) => e.preventDefault());
  addEventListener("drop", (e) => {
    e.preventDefault();
    depth = 0;
    sign.hidden = true;
    const file = e.dataTransfer.files[0];
    if (file) take(file);
  });
}

/* The tip, or of a plan where it would be, in the middle. */
let toTip = null;
const tipShown = () => tipPlace() ?? (job.scrubbed && tip ? [tip.x, tip.y] : null);
function showTip() {
  const [px, py] = toPx(tipShown());
  pan(view.w / 2 - px, view.h / 2 - py);
}

function tools() {
  const make = (text, name, what) => {
    const node = button(text, what, { title: name });
    if (text.length < 2) node.setAttribute("aria-label", name);
    return node;
  };
  const tip = make(tr("Tip"), tr("Bring the pen's tip into the middle"), showTip);
  const ways = make(tr("Travels"), tr("Show the travels between strokes"), () => {
    setLook({ ways: !look.ways });
    ways.setAttribute("aria-pressed", String(look.ways));
  });
  ways.setAttribute("aria-pressed", "false");
  fill(byId("bed-tools"), make("+", tr("Zoom in"), () => zoom(1.4)), make("−", tr("Zoom out"), () => zoom(1 / 1.4)),
    make(tr("Fit"), tr("Show the whole bed"), fitView), tip, ways);
  toTip = tip;
}

let inkShown = -1, pensShown = "";
function update() {
  const { drawing, machine } = desk;
  if (!drawing || !machine) return;
  const pens = JSON.stringify(machine.pens);
  if (pens !== pensShown) {
    pensShown = pens;
    worker.postMessage({ kind: "pens", pens: machine.pens });
  }
  const ink = drawing.strokes > 0 ? drawing.ink : 0;
  if (ink !== inkShown) {
    inkShown = ink;
    select(null);
    worker.postMessage({ kind: "ink", number: ink });
  }
  loadArt();
  if (!isReady() && ghost?.kind === "tip" && isMoving()) ghost = null;
  const size = JSON.stringify([machine.travel, machine.reach, drawing.paper]);
  if (view.fitted && size !== bed.size) fitView();
  bed.size = size;
  const seen = JSON.stringify([size, drawing.ink_paper, drawing.margin, drawing.left, drawing.right, drawing.name, drawing.is_program, ink]);
  if (seen !== bed.seen) changed(); // a plan under way tells of its progress many times a second
  bed.seen = seen;
}

export function startBed() {
  worker = new Worker("/js/ink-worker.js", { type: "module" });
  worker.onmessage = heard;
  const canvas = byId("bed-ink").transferControlToOffscreen();
  worker.postMessage({ kind: "start", canvas, base: location.origin }, [canvas]);
  makeMarks();
  tools();
  hands(byId("bed-focus"));
  dropping();
  new ResizeObserver(resize).observe(byId("bed"));
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", changed);
  watch(["drawing", "machine"], update);
  watch(["session", "run"], changed);
  onTime(() => {
    showTime();
    changed();
  });
  resize();
}
