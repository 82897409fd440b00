/* ink: the job's ink on a canvas. Snapshots of the picture at equal shares of the strokes are kept, so
 * that any moment is a copy and a few strokes; they are made in short pieces of work that a new view
 * interrupts. Runs in a worker, or on the page where there are none. */

const MEMORY = 180e6; // bytes for snapshots
const PIECE_MS = 10; // of work before others have their turn
const FEWEST = 300; // strokes from snapshot to snapshot: this many are drawn faster than a picture is copied
const PALE = 0.2;
/* Inks let the light through: where two pens cross it is at least as dark as either, and one pen's ink over its own
 * is as it was. */
const INK_ON_INK = "darken";

const newCanvas = (w, h) => new OffscreenCanvas(Math.max(1, w), Math.max(1, h));

/* The arrays of src/desk/ink-data.h. */
export function parseInk(buffer) {
  const head = new DataView(buffer);
  if (buffer.byteLength < 64 || head.getUint32(0, true) !== 0x314b4e49) return null;
  const n = head.getUint32(4, true), points = head.getUint32(8, true);
  let at = 64;
  const take = (Type, count) => {
    const array = new Type(buffer, at, count);
    at += array.byteLength;
    return array;
  };
  const ink = {
    n, total_s: head.getFloat64(16, true),
    xy: take(Float32Array, 2 * points), first: take(Uint32Array, n + 1),
    begin: take(Float32Array, n), end: take(Float32Array, n), pen: take(Uint8Array, n),
  };
  ink.box = boxes(ink);
  return ink;
}

function boxes({ n, xy, first }) {
  const box = new Float32Array(4 * n);
  for (let i = 0; i < n; i++) {
    let x0 = Infinity, y0 = Infinity, x1 = -Infinity, y1 = -Infinity;
    for (let k = first[i]; k < first[i + 1]; k++) {
      const x = xy[2 * k], y = xy[2 * k + 1];
      if (x < x0) x0 = x;
      if (x > x1) x1 = x;
      if (y < y0) y0 = y;
      if (y > y1) y1 = y;
    }
    box.set([x0, y0, x1, y1], 4 * i);
  }
  return box;
}

/* Strokes begun by a time. */
function begunBy(ink, t) {
  let low = 0, high = ink.n;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (ink.begin[middle] <= t) low = middle + 1;
    else high = middle;
  }
  return low;
}

export function strokeLength(ink, i) {
  let sum = 0;
  for (let k = ink.first[i] + 1; k < ink.first[i + 1]; k++)
    sum += Math.hypot(ink.xy[2 * k] - ink.xy[2 * k - 2], ink.xy[2 * k + 1] - ink.xy[2 * k - 1]);
  return sum;
}

/* Where the tip is: on its stroke by the share of its length, else on the way to the next. */
function tipAt(ink, t) {
  const i = begunBy(ink, t) - 1;
  if (ink.n === 0) return null;
  if (i < 0) return { x: ink.xy[0], y: ink.xy[1], down: false, stroke: 0 };
  if (t < ink.end[i]) {
    const [x, y] = pointAlong(ink, i, (t - ink.begin[i]) / (ink.end[i] - ink.begin[i]));
    return { x, y, down: true, stroke: i };
  }
  const from = ink.first[i + 1] - 1;
  if (i + 1 >= ink.n) return { x: ink.xy[2 * from], y: ink.xy[2 * from + 1], down: false, stroke: i };
  const share = (t - ink.end[i]) / Math.max(1e-9, ink.begin[i + 1] - ink.end[i]), to = ink.first[i + 1];
  return {
    x: ink.xy[2 * from] + share * (ink.xy[2 * to] - ink.xy[2 * from]),
    y: ink.xy[2 * from + 1] + share * (ink.xy[2 * to + 1] - ink.xy[2 * from + 1]),
    down: false, stroke: i,
  };
}

function pointAlong(ink, i, share) {
  let left = share * strokeLength(ink, i);
  let k = ink.first[i];
  for (; k + 1 < ink.first[i + 1]; k++) {
    const dx = ink.xy[2 * k + 2] - ink.xy[2 * k], dy = ink.xy[2 * k + 3] - ink.xy[2 * k + 1];
    const d = Math.hypot(dx, dy);
    if (d >= left && d > 0) return [ink.xy[2 * k] + (dx * left) / d, ink.xy[2 * k + 1] + (dy * left) / d];
    left -= d;
  }
  return [ink.xy[2 * k], ink.xy[2 * k + 1]];
}

/* The stroke nearest to a place, within `reach` mm; null where there is none. */
export function strokeNear(ink, x, y, reach) {
  let best = null, near = reach;
  const { box, first, xy } = ink;
  for (let i = 0; i < ink.n; i++) {
    if (x < box[4 * i] - near || x > box[4 * i + 2] + near || y < box[4 * i + 1] - near ||
        y > box[4 * i + 3] + near) continue;
    for (let k = first[i]; k < first[i + 1]; k++) {
      const to = Math.min(k + 1, first[i + 1] - 1);
      const ax = xy[2 * k], ay = xy[2 * k + 1], dx = xy[2 * to] - ax, dy = xy[2 * to + 1] - ay;
      const d2 = dx * dx + dy * dy;
      const s = d2 ? Math.max(0, Math.min(1, ((x - ax) * dx + (y - ay) * dy) / d2)) : 0;
      const d = Math.hypot(x - ax - s * dx, y - ay - s * dy);
      if (d <= near) {
        near = d;
        best = i;
      }
    }
  }
  return best;
}

export class InkPainter {
  constructor(canvas, report) {
    this.canvas = canvas;
    this.report = report; // ({tip, ...}) after each picture
    this.ink = null;
    this.pens = [];
    this.view = { scale: 1, x: 0, y: 0, w: 1, h: 1, ratio: 1 };
    this.show = { t: 0, pale: true, selected: null, ways: false, ground: null };
    this.shots = [];
    this.generation = 0;
    this.due = false;
  }

  setInk(ink) {
    this.ink = ink;
    this.old = null;
    this.restart();
  }

  setPens(pens) {
    this.pens = pens;
    this.old = null;
    this.restart();
  }

  setView(view) {
    const was = this.view;
    if (["scale", "x", "y", "w", "h", "ratio"].every((name) => was[name] === view[name])) return;
    if (this.ink && this.made >= this.ink.n) this.old = { canvas: this.growing, view: was };
    this.view = view;
    if (was.w !== view.w || was.h !== view.h || was.ratio !== view.ratio) {
      this.canvas.width = Math.max(1, Math.round(view.w * view.ratio));
      this.canvas.height = Math.max(1, Math.round(view.h * view.ratio));
    }
    this.restart();
  }

  setShow(show) {
    Object.assign(this.show, show);
    this.schedule();
  }

  schedule() {
    if (this.due) return;
    this.due = true;
    const draw = () => {
      this.due = false;
      this.paint();
    };
    if (typeof requestAnimationFrame === "function") requestAnimationFrame(draw);
    else setTimeout(draw, 0);
  }

  /* Strokes -------------------------------------------------------------------------------------- */

  prepare(c) {
    const { scale, x, y, ratio } = this.view;
    c.setTransform(scale * ratio, 0, 0, -scale * ratio, x * ratio, y * ratio);
  }

  width(pen) {
    return Math.max(this.pens[pen]?.tip_mm ?? 0.4, 0.8 / (this.view.scale * this.view.ratio));
  }

  /* Strokes from..to-1, in paths of one pen. What lies outside is left out, and points that fall on
   * one pixel are one. */
  strokes(c, from, to) {
    const { ink, view } = this, { xy, first, box, pen } = ink;
    const px = 1 / (view.scale * view.ratio), fine = 0.4 * px;
    const x0 = -view.x / view.scale, x1 = (view.w - view.x) / view.scale;
    const y1 = view.y / view.scale, y0 = (view.y - view.h) / view.scale;
    let points = 0, open = -1;
    const end = () => {
      if (open >= 0) c.stroke();
      open = -1;
      points = 0;
    };
    for (let i = from; i < to; i++) {
      const b = 4 * i, w = this.width(pen[i]);
      if (box[b] - w > x1 || box[b + 2] + w < x0 || box[b + 1] - w > y1 || box[b + 3] + w < y0) continue;
      if (open !== pen[i] || points > 400) {
        end();
        open = pen[i];
        c.strokeStyle = this.pens[open]?.colour ?? "#404040";
        c.lineWidth = w;
        const thin = w < 2.2 * px;
        c.lineCap = thin ? "butt" : "round";
        c.lineJoin = thin ? "bevel" : "round";
        c.beginPath();
      }
      const a = first[i], z = first[i + 1];
      let lx = xy[2 * a], ly = xy[2 * a + 1];
      c.moveTo(lx, ly);
      if (box[b + 2] - box[b] < px && box[b + 3] - box[b + 1] < px) {
        c.lineTo(lx + Math.max(px, w * 0.1), ly); // a dot
        points += 2;
        continue;
      }
      for (let k = a + 1; k < z; k++) {
        const x = xy[2 * k], y = xy[2 * k + 1];
        if (k + 1 < z && Math.abs(x - lx) < fine && Math.abs(y - ly) < fine) continue;
        c.lineTo(x, y);
        lx = x;
        ly = y;
        points++;
      }
      points++;
    }
    end();
  }

  /* The part of stroke i that is drawn by time t. */
  part(c, i, t) {
    const { ink } = this;
    const share = Math.min(1, (t - ink.begin[i]) / Math.max(1e-9, ink.end[i] - ink.begin[i]));
    let left = share * strokeLength(ink, i);
    c.globalCompositeOperation = INK_ON_INK;
    c.strokeStyle = this.pens[ink.pen[i]]?.colour ?? "#404040";
    c.lineWidth = this.width(ink.pen[i]);
    c.lineCap = c.lineJoin = "round";
    c.beginPath();
    const a = ink.first[i];
    c.moveTo(ink.xy[2 * a], ink.xy[2 * a + 1]);
    for (let k = a + 1; k < ink.first[i + 1] && left > 0; k++) {
      const dx = ink.xy[2 * k] - ink.xy[2 * k - 2], dy = ink.xy[2 * k + 1] - ink.xy[2 * k - 1];
      const d = Math.hypot(dx, dy), s = d > left ? left / d : 1;
      c.lineTo(ink.xy[2 * k - 2] + s * dx, ink.xy[2 * k - 1] + s * dy);
      left -= d;
    }
    c.stroke();
    c.globalCompositeOperation = "source-over";
  }

  /* Snapshots ------------------------------------------------------------------------------------ */

  restart() {
    this.generation++;
    const { width: w, height: h } = this.canvas;
    const count = Math.max(3, Math.min(64, Math.floor(MEMORY / (w * h * 4))));
    const n = this.ink?.n ?? 0;
    this.shots = [];
    this.each = Math.max(FEWEST, Math.ceil(n / count));
    this.now = newCanvas(w, h);
    this.nowCount = 0;
    this.made = 0; // strokes in the canvas that the snapshots are taken from
    this.growing = newCanvas(w, h);
    if (n) this.grow(this.generation);
    this.schedule();
  }

  grow(generation) {
    if (generation !== this.generation) return;
    const until = performance.now() + PIECE_MS, c = this.growing.getContext("2d");
    this.prepare(c);
    c.globalCompositeOperation = INK_ON_INK;
    while (this.made < this.ink.n && performance.now() < until) {
      const border = (this.shots.length + 1) * this.each;
      const to = Math.min(this.ink.n, border, this.made + 400);
      this.strokes(c, this.made, to);
      this.made = to;
      if (to === border && to < this.ink.n) this.shots.push(this.copy(this.growing));
    }
    if (this.made < this.ink.n) setTimeout(() => this.grow(generation), 0);
    else this.old = null;
    this.schedule();
  }

  copy(from) {
    const to = newCanvas(from.width, from.height);
    to.getContext("2d").drawImage(from, 0, 0);
    return to;
  }

  /* The canvas `now` gets the first `count` strokes whole. */
  advance(count) {
    const c = this.now.getContext("2d");
    const shot = Math.min(Math.floor(count / this.each), this.shots.length);
    if (count < this.nowCount || shot * this.each > this.nowCount) {
      c.setTransform(1, 0, 0, 1, 0, 0);
      c.clearRect(0, 0, this.now.width, this.now.height);
      if (shot > 0) c.drawImage(this.shots[shot - 1], 0, 0);
      this.nowCount = shot * this.each;
    }
    this.prepare(c);
    c.globalCompositeOperation = INK_ON_INK;
    this.strokes(c, this.nowCount, count);
    this.nowCount = count;
  }

  /* A picture ------------------------------------------------------------------------------------ */

  ways(c, count) {
    const { ink } = this, px = 1 / (this.view.scale * this.view.ratio);
    c.strokeStyle = "#7a4fb0";
    c.lineWidth = 1.2 * px;
    c.setLineDash([4 * px, 4 * px]);
    c.beginPath();
    for (let i = Math.max(1, count - 60); i < Math.min(ink.n, count + 1); i++) {
      const from = ink.first[i] - 1, to = ink.first[i];
      c.moveTo(ink.xy[2 * from], ink.xy[2 * from + 1]);
      c.lineTo(ink.xy[2 * to], ink.xy[2 * to + 1]);
    }
    c.stroke();
    c.setLineDash([]);
  }

  /* The whole ink; as it was in the view before, until the new picture of it is made. */
  all(c) {
    if (!this.old) {
      c.drawImage(this.growing, 0, 0);
      return;
    }
    const { view, canvas } = this.old, k = this.view.scale / view.scale;
    const ratio = this.view.ratio;
    c.drawImage(canvas, (this.view.x - view.x * k) * ratio, (this.view.y - view.y * k) * ratio,
      (canvas.width * k * ratio) / view.ratio, (canvas.height * k * ratio) / view.ratio);
  }

  mark(c, i) {
    const { ink } = this, px = 1 / (this.view.scale * this.view.ratio);
    for (const [colour, more] of [["#ffffffd0", 7], ["#0b6fb8", 3]]) {
      c.strokeStyle = colour;
      c.lineWidth = this.width(ink.pen[i]) + more * px;
      c.lineCap = c.lineJoin = "round";
      c.beginPath();
      c.moveTo(ink.xy[2 * ink.first[i]], ink.xy[2 * ink.first[i] + 1]);
      for (let k = ink.first[i]; k < ink.first[i + 1]; k++) c.lineTo(ink.xy[2 * k], ink.xy[2 * k + 1]);
      c.stroke();
    }
    this.strokes(c, i, i + 1);
  }

  paint() {
    const began = performance.now();
    const c = this.canvas.getContext("2d"), { ink, show } = this;
    c.setTransform(1, 0, 0, 1, 0, 0);
    c.clearRect(0, 0, this.canvas.width, this.canvas.height);
    if (!ink || !ink.n) {
      this.report({ tip: null, ms: performance.now() - began, whole: true });
      return;
    }
    if (show.ground) {
      const [x0, y0, x1, y1] = show.ground;
      this.prepare(c);
      c.fillStyle = "#fff";
      c.fillRect(x0, y0, x1 - x0, y1 - y0);
      c.setTransform(1, 0, 0, 1, 0, 0);
    }
    const begun = begunBy(ink, show.t);
    const whole = begun > 0 && show.t < ink.end[begun - 1] ? begun - 1 : begun;
    if (show.pale && whole < ink.n) {
      c.globalAlpha = PALE;
      this.all(c);
      c.globalAlpha = 1;
    }
    if (whole >= ink.n) {
      this.all(c);
    } else if (whole > 0) {
      this.advance(ink.n < 5000 ? whole : Math.min(whole, this.made));
      c.drawImage(this.now, 0, 0);
    }
    this.prepare(c);
    if (whole < begun) this.part(c, begun - 1, show.t);
    if (show.ways) this.ways(c, begun);
    if (show.selected !== null && show.selected < ink.n) this.mark(c, show.selected);
    this.report({
      tip: tipAt(ink, show.t), ms: performance.now() - began, whole: this.made >= ink.n, t: show.t, w: this.view.w,
      strokes: whole,
    });
  }
}
