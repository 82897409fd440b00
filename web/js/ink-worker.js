/* ink-worker: the ink off the page's own thread. It fetches the ink itself. */
import { InkPainter, parseInk, strokeNear, strokeLength } from "./ink.js";

let painter = null, number = 0, base = "";

const tell = (message) => postMessage(message);

async function load(wanted) {
  number = wanted;
  if (!wanted) {
    painter.setInk(null);
    return;
  }
  let ink = null;
  try {
    const response = await fetch(`${base}/ink?number=${wanted}`);
    if (response.ok) ink = parseInk(await response.arrayBuffer());
  } catch { /* the next number comes with the next connection */ }
  if (number !== wanted) return;
  painter.setInk(ink);
  tell({ kind: "ink", number: wanted, summary: ink ? summary(ink) : null });
}

/* What the strip draws: where pens take over, and their shares. */
function summary(ink) {
  const parts = [], used = new Map();
  for (let i = 0; i < ink.n; i++) {
    const last = parts[parts.length - 1];
    if (!last || last.pen !== ink.pen[i]) parts.push({ pen: ink.pen[i], from: ink.begin[i], to: ink.end[i], strokes: 0 });
    const part = parts[parts.length - 1];
    part.to = ink.end[i];
    part.strokes++;
    used.set(ink.pen[i], (used.get(ink.pen[i]) ?? 0) + strokeLength(ink, i));
  }
  return { n: ink.n, total_s: ink.total_s, parts, ink_mm: [...used] };
}

function describe(i) {
  const { ink } = painter;
  if (!ink || i === null || i >= ink.n) return null;
  const a = ink.first[i];
  return {
    stroke: i, pen: ink.pen[i], begin: ink.begin[i], end: ink.end[i], length: strokeLength(ink, i),
    x: ink.xy[2 * a], y: ink.xy[2 * a + 1], n: ink.n,
  };
}

const actions = {
  start(m) {
    base = m.base;
    painter = new InkPainter(m.canvas, (done) => tell({ kind: "painted", ...done }));
  },
  ink: (m) => load(m.number),
  pens: (m) => painter.setPens(m.pens),
  view: (m) => painter.setView(m.view),
  show: (m) => painter.setShow(m.show),
  find(m) {
    const i = painter.ink ? strokeNear(painter.ink, m.x, m.y, m.reach) : null;
    tell({ kind: "found", id: m.id, stroke: describe(i) });
  },
  describe: (m) => tell({ kind: "found", id: m.id, stroke: describe(m.stroke) }),
};

onmessage = (event) => actions[event.data.kind]?.(event.data);
