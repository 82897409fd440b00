/* strip: the job as a strip of time. Pens in their colours, pen changes as gates, what happened as
 * notches, the part that is done full; below it the drawing's own order. */
import { byId } from "./dom.js";
import { desk, watch, penOf, isActive } from "./desk.js";
import * as format from "./format.js";
import { job, scrub, total, onTime } from "./time.js";
import { tr, plural } from "./words.js";

const TOP = 9; // px above the strip for gates
const HIGH = 44;

function size(canvas, high) {
  const w = canvas.parentElement.clientWidth || 1, ratio = Math.min(2, devicePixelRatio || 1);
  const width = Math.round(w * ratio), height = Math.round(high * ratio);
  if (canvas.width !== width || canvas.height !== height) {
    canvas.width = width;
    canvas.height = height;
  }
  canvas.style.height = `${high}px`;
  const c = canvas.getContext("2d");
  c.setTransform(ratio, 0, 0, ratio, 0, 0);
  c.clearRect(0, 0, w, high);
  return [c, w];
}

const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();

/* Spans of one pen, from gate to gate. */
function spans() {
  const parts = job.inkNumber === desk.drawing.ink ? (job.summary?.parts ?? []) : [], all = total() || 1;
  return parts.map((part, i) => ({
    pen: part.pen, strokes: part.strokes,
    from: i ? (parts[i - 1].to + part.from) / 2 / all : 0,
    to: i + 1 < parts.length ? (part.to + parts[i + 1].from) / 2 / all : 1,
  }));
}

function paintPlan() {
  const [c, w] = size(byId("strip-plan"), HIGH + 2 * TOP);
  const now = Math.min(1, job.t / (total() || 1)), live = Math.min(1, job.live / (total() || 1));
  const full = isActive() || desk.run?.phase === "ended" ? live : now;
  c.fillStyle = colour("paper"); // the strip is paper, in the dark too: ink must show on it
  c.fillRect(0, TOP - 2, w, HIGH + 4);
  for (const span of spans()) {
    const { colour: ink } = penOf(span.pen);
    const x0 = span.from * w, x1 = span.to * w;
    c.fillStyle = ink;
    c.globalAlpha = 0.28;
    c.fillRect(x0, TOP, x1 - x0, HIGH);
    c.globalAlpha = 1;
    if (full > span.from) c.fillRect(x0, TOP, Math.min(x1, full * w) - x0, HIGH);
    if (span.from > 0) gate(c, x0);
  }
  for (const h of happened()) notch(c, h.done * w, h.kind);
  line(c, now * w, "tip");
  if (job.scrubbed && isActive()) line(c, live * w, "stop");
}

function gate(c, x) {
  c.fillStyle = colour("ground");
  c.fillRect(x - 2, TOP, 4, HIGH);
  c.fillStyle = colour("ink");
  c.beginPath();
  c.moveTo(x - 6, 1);
  c.lineTo(x + 6, 1);
  c.lineTo(x, TOP);
  c.fill();
}

/* What is marked below the strip: not what belongs to every run. */
const happened = () => (desk.run?.happened ?? []).filter((e) => e.kind !== "pen-change" && !(e.kind === "waiting" && e.done === 0)
  && !(e.kind === "ended" && desk.run.ended === "done"));

function notch(c, x, kind) {
  c.fillStyle = colour(["paused", "state", "recovered", "waiting"].includes(kind) ? "asks" : "bad");
  c.beginPath();
  c.moveTo(x - 5, HIGH + 2 * TOP);
  c.lineTo(x + 5, HIGH + 2 * TOP);
  c.lineTo(x, HIGH + TOP - 3);
  c.fill();
}

/* What the mark under the pointer stands for; "" where there is none. */
function markAt(x, w) {
  const near = (share) => Math.abs(share * w - x) < 7;
  const gates = spans().filter((s) => s.from > 0 && near(s.from)).map((s) => tr("The {0} pen is put in", penOf(s.pen).name));
  return [...gates, ...happened().filter((e) => near(e.done)).map((e) => `${format.day(e.at).slice(11)} ${e.text}`)].join("\n");
}

function line(c, x, name) {
  c.fillStyle = colour("panel");
  c.fillRect(x - 3, 2, 6, HIGH + 2 * TOP - 4);
  c.fillStyle = colour(name);
  c.fillRect(x - 1.5, 0, 3, HIGH + 2 * TOP);
}

function paintOwn() {
  const canvas = byId("strip-own"), own = desk.drawing?.own;
  canvas.hidden = !own;
  byId("caption-own").textContent = own
    ? tr("below: the drawing's own order, {0}{1}", format.duration(own.total_s), own.changes ? `, ${plural(own.changes, "{0} pen change", "{0} pen changes")}` : "") : "";
  if (!own) return;
  const [c, w] = size(canvas, 7);
  const all = Math.max(own.total_s, total()), share = own.total_s / all;
  const unit = (w * share) / own.pens.length;
  c.fillStyle = colour("paper");
  c.fillRect(0, 0, w * share, 7);
  c.globalAlpha = 0.6;
  for (let i = 0, end; i < own.pens.length; i = end) {
    for (end = i + 1; end < own.pens.length && own.pens[end] === own.pens[i];) end++;
    if (own.pens[i] < 0) continue;
    c.fillStyle = penOf(own.pens[i]).colour;
    c.fillRect(Math.round(i * unit), 0, Math.round(end * unit) - Math.round(i * unit), 7);
  }
  c.globalAlpha = 1;
}

/* What stands above it: time drawn, what comes next, time left. */
function words() {
  const all = total(), { session, run } = desk, t = Math.min(job.t, all);
  const left = byId("when-left"), middle = byId("when-middle"), right = byId("when-right");
  const strong = (node, bold, rest) => {
    const b = document.createElement("b");
    b.textContent = bold;
    node.replaceChildren(b, rest);
  };
  const next = spans().find((s) => s.from * all > t + 1e-6);
  middle.textContent = next
    ? tr("{0} in {1}", penOf(next.pen).name, format.duration(next.from * all - t)) : "";
  if (run?.phase === "active" && !job.scrubbed) {
    strong(left, format.duration(t), tr(" drawn"));
    const end = new Date(Date.now() + session.left_s * 1000);
    strong(right, format.duration(session.left_s), tr(" left, ready about {0}", format.clock(end)));
    if (session.state === "pen-change") middle.textContent = tr("{0} begins now", session.pen_name);
  } else if (run?.phase === "ended" && !job.scrubbed) {
    strong(left, format.duration(Math.min(job.live, all)), tr(" drawn"));
    right.textContent = run.ended === "done" ? tr("finished") : tr("{0} not drawn", format.duration(Math.max(0, all - job.live)));
  } else {
    strong(left, format.duration(t), tr(" of {0}", format.duration(all)));
    if (t < all) strong(right, format.duration(all - t), job.scrubbed ? tr(" after this moment") : tr(" to draw"));
    else right.textContent = tr("drag along the strip to see any moment");
  }
  byId("caption-plan").textContent = tr("above: this plan, {0}", format.duration(all));
  const slider = byId("strip-slider");
  slider.setAttribute("aria-valuemax", String(Math.round(all)));
  slider.setAttribute("aria-valuenow", String(Math.round(t)));
  slider.setAttribute("aria-valuetext",
    tr("{0} of {1}{2}", format.duration(t), format.duration(all), next ? tr(", then {0}", penOf(next.pen).name) : ""));
}

function paint() {
  const wide = document.body.dataset.station === "machine" || document.body.dataset.station === "log";
  byId("strip").hidden = !desk.drawing?.strokes || (wide && !isActive());
  if (byId("strip").hidden) return;
  paintPlan();
  paintOwn();
  words();
}

let due = false;
export function paintStrip() {
  if (due) return;
  due = true;
  requestAnimationFrame(() => {
    due = false;
    paint();
  });
}

function scrubbing(node) {
  const to = (e) => {
    const box = node.getBoundingClientRect();
    scrub(((e.clientX - box.left) / box.width) * total());
  };
  node.addEventListener("pointerdown", (e) => {
    node.setPointerCapture(e.pointerId);
    to(e);
  });
  node.addEventListener("pointermove", (e) => {
    if (node.hasPointerCapture(e.pointerId)) to(e);
    node.title = markAt(e.offsetX, node.clientWidth);
  });
  node.addEventListener("dblclick", () => scrub(null));
  node.addEventListener("keydown", (e) => {
    const all = total(), at = Math.min(job.t, all);
    const next = spans().map((s) => s.from * all).find((t) => t > at + 1e-6);
    const last = spans().map((s) => s.from * all).reverse().find((t) => t < at - 1e-6);
    const t = {
      ArrowRight: at + all / 200, ArrowUp: at + all / 200, ArrowLeft: at - all / 200, ArrowDown: at - all / 200,
      PageUp: next ?? all, PageDown: last ?? 0, Home: 0, End: all,
    }[e.key];
    if (t === undefined && e.key !== "Backspace") return;
    e.preventDefault();
    scrub(t === undefined ? null : t);
  });
}

export function startStrip() {
  scrubbing(byId("strip-slider"));
  new ResizeObserver(paintStrip).observe(document.body);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", paintStrip);
  watch(["session", "run", "drawing", "machine"], paintStrip);
  onTime(paintStrip);
}
