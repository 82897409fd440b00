/* bed-paint: the bed to scale: millimetres to pixels and back, rulers, steps of the motors, marks. */
import { desk } from "./desk.js";
import { tr } from "./words.js";

export const view = { scale: 2, x: 0, y: 0, w: 1, h: 1, ratio: 1, fitted: true };

export const toPx = (p) => [view.x + p[0] * view.scale, view.y - p[1] * view.scale];
export const toMm = (x, y) => [(x - view.x) / view.scale, (view.y - y) / view.scale];

/* The bed as far as the carriage or a tip gets. */
export function bedSize() {
  const { travel, reach } = desk.machine ?? { travel: [300, 220], reach: [0, 0, 0, 0] };
  return [Math.max(travel[0], reach[2]), Math.max(travel[1], reach[3])];
}

export const colour = (name) => getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();

export function frame(c, x0, y0, x1, y1) {
  const [a, b] = toPx([x0, y1]), [d, e] = toPx([x1, y0]);
  c.rect(a, b, d - a, e - b);
}

/* Where it stands on the sheet it must be readable on ink, too. */
function label(c, text, x, y, on_ink) {
  if (on_ink) {
    c.strokeStyle = colour("bed");
    c.lineWidth = 4;
    c.strokeText(text, x, y);
  }
  c.fillText(text, x, y);
}

export function paintRulers(c, w, h) {
  const steps = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100];
  const every = steps.find((s) => s * view.scale >= 58) ?? 100, digits = every < 0.1 ? 2 : every < 1 ? 1 : 0;
  c.fillStyle = colour("bed-text");
  c.font = '11px system-ui, "DejaVu Sans", sans-serif';
  c.lineJoin = "round";
  const [, low] = toPx([0, 0]), [left] = toPx([0, 0]);
  const y = Math.min(low, view.h - 16), x = Math.max(left, 0), marks = new Path2D();
  for (let v = Math.max(0, Math.ceil(toMm(0, 0)[0] / every) * every); v <= w + 1e-6; v += every) {
    const [px] = toPx([v, 0]);
    if (px > view.w) break;
    marks.moveTo(px, y);
    marks.lineTo(px, y - 5);
    c.textAlign = "center";
    label(c, v.toFixed(digits) + (v + every > w || view.w - px < every * view.scale ? " mm" : ""), px, y + 13, low > y);
  }
  for (let v = Math.max(0, Math.ceil(toMm(0, view.h)[1] / every) * every); v <= h + 1e-6; v += every) {
    const [, py] = toPx([0, v]);
    if (py < 0) break;
    marks.moveTo(x, py);
    marks.lineTo(x + 5, py);
    c.textAlign = left > 26 ? "right" : "left";
    if (v > 0) label(c, v.toFixed(digits), left > 26 ? x - 4 : x + 8, py + 4, left < 0);
  }
  c.strokeStyle = colour("bed-text");
  c.lineWidth = 1;
  c.stroke(marks);
}

/* The steps of the motors, where they are far enough apart to be seen. */
const SEEN_PX = 7;
export function paintSteps(c) {
  const mm = desk.machine.steps_per_mm.map((n) => 1 / n);
  if (Math.min(...mm) * view.scale < SEEN_PX) return;
  const [x0, y0] = toMm(0, view.h), lines = new Path2D();
  for (let i = Math.ceil(x0 / mm[0]), px; (px = toPx([i * mm[0], 0])[0]) < view.w; i++) {
    lines.moveTo(px, 0);
    lines.lineTo(px, view.h);
  }
  for (let i = Math.ceil(y0 / mm[1]), py; (py = toPx([0, i * mm[1]])[1]) > 0; i++) {
    lines.moveTo(0, py);
    lines.lineTo(view.w, py);
  }
  c.lineWidth = 1;
  c.globalAlpha = 0.35;
  c.strokeStyle = colour("bed-text");
  c.stroke(lines);
  c.globalAlpha = 1;
  c.fillStyle = colour("bed-text");
  c.font = '12.5px system-ui, "DejaVu Sans", sans-serif';
  c.textAlign = "left";
  label(c, tr("A square is one step of each motor: {0} mm", mm.map((v) => v.toFixed(4)).join(" × ")), 40, view.h - 40, true);
}

export function cross(c, [x, y], down, strong) {
  c.strokeStyle = colour(strong ? "tip" : "tip-planned");
  c.fillStyle = c.strokeStyle;
  c.lineWidth = strong ? 2 : 1.5;
  c.beginPath();
  c.arc(x, y, 12, 0, 7);
  c.moveTo(x - 20, y);
  c.lineTo(x + 20, y);
  c.moveTo(x, y - 20);
  c.lineTo(x, y + 20);
  c.stroke();
  if (down) {
    c.beginPath();
    c.arc(x, y, 4, 0, 7);
    c.fill();
  }
}

export function corner(c, at, mirrored) {
  const [x, y] = toPx(at), s = mirrored ? -1 : 1;
  c.strokeStyle = colour("tip");
  c.lineWidth = 3;
  c.beginPath();
  c.moveTo(x, y - 26);
  c.lineTo(x, y);
  c.lineTo(x + 26 * s, y);
  c.stroke();
}

