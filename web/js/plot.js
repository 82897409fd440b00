/* plot: points with their intervals on two axes, as SVG. */
import { svg } from "./dom.js";

const W = 520, H = 280, LEFT = 76, RIGHT = 14, TOP = 26, BOTTOM = 40;

/* Round steps, about `count` of them. */
export function niceSteps(from, to, count) {
  const raw = (to - from) / count || 1, power = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 2.5, 5, 10].map((k) => k * power).find((s) => s >= raw * 0.999);
  const steps = [];
  for (let v = Math.ceil(from / step - 1e-9) * step; v <= to + step * 1e-6; v += step) steps.push(Math.abs(v) < step * 1e-9 ? 0 : v);
  return steps;
}

/* { label, x: {from, to, ticks: [[value, text]], title}, y: the same, series: [{class, line, points: [{x, y, bar, title}]}],
 * ideal } */
export function plot(p) {
  const x = (v) => LEFT + ((v - p.x.from) / (p.x.to - p.x.from || 1)) * (W - LEFT - RIGHT);
  const y = (v) => H - BOTTOM - ((v - p.y.from) / (p.y.to - p.y.from || 1)) * (H - BOTTOM - TOP);
  const bars = (points) => points.filter((q) => q.bar > 0).map((q) => svg("path", { class: "interval", d: `M${x(q.x)} ${y(q.y - q.bar)}V${y(q.y + q.bar)}m-4 0h8M${x(q.x) - 4} ${y(q.y - q.bar)}h8` }));
  return svg("svg", { viewBox: `0 0 ${W} ${H}`, class: "plot", role: "img", "aria-label": p.label },
    p.y.ticks.map(([v, text]) => [svg("path", { class: "grid", d: `M${LEFT} ${y(v)}H${W - RIGHT}` }), svg("text", { x: LEFT - 8, y: y(v) + 4, "text-anchor": "end" }, text)]),
    svg("path", { class: "axis", d: `M${LEFT} ${TOP - 6}V${H - BOTTOM}H${W - RIGHT}` }),
    p.x.ticks.map(([v, text], i, all) => [svg("path", { class: "axis", d: `M${x(v)} ${H - BOTTOM}v5` }),
      svg("text", { x: x(v), y: H - BOTTOM + 18, "text-anchor": text.length < 6 || all.length === 1 ? "middle" : i === 0 ? "start" : i === all.length - 1 ? "end" : "middle" }, text)]),
    svg("text", { x: (W + LEFT) / 2, y: H - 4, "text-anchor": "middle" }, p.x.title), svg("text", { x: LEFT - 8, y: 12, "text-anchor": "start" }, p.y.title),
    p.ideal ? svg("path", { class: "ideal", d: `M${x(p.ideal[0])} ${y(p.ideal[1])}L${x(p.ideal[2])} ${y(p.ideal[3])}` }) : null,
    p.series.map((s) => svg("g", { class: s.class }, s.line && s.points.length > 1 ? svg("path", { class: "line", d: `M${s.points.map((q) => `${x(q.x)} ${y(q.y)}`).join("L")}` }) : null, bars(s.points),
      s.points.map((q) => svg("circle", { cx: x(q.x), cy: y(q.y), r: 4.5 }, svg("title", null, q.title))))));
}
