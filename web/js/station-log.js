/* station-log: past runs, ink for each pen, time told and taken. */
import { h, fill, svg, button } from "./dom.js";
import { desk, get, move, isActive } from "./desk.js";
import * as format from "./format.js";
import { SHAPES } from "./states.js";

const WORDS = {
  running: ["draws now", "busy", "arrow"], done: ["done", "good", "tick"], stopped: ["stopped", "asks", "square"],
  "broken off": ["broken off", "bad", "cross"], "cut off": ["cut off", "bad", "gap"],
};

function mark(state) {
  const [word, tone, shape] = WORDS[state] ?? [state, "still", "ring"];
  const glyph = svg("svg", { viewBox: "-8 -8 16 16", width: 13, height: 13, "aria-hidden": "true" }, svg("path", { d: SHAPES[shape] }));
  return h("span.state.small", { "data-tone": tone }, glyph, word);
}

const file = (path) => path.slice(path.lastIndexOf("/") + 1);

function table(runs) {
  const head = ["Run", "Began", "State", "Strokes", "Ink", "Predicted", "Took", "Program", ""];
  return h("div.scroll", { tabIndex: 0, role: "region", "aria-label": "Past runs" }, h("table", null,
    h("thead", null, h("tr", null, head.map((t) => h("th", { scope: "col" }, t || h("span.hidden", null, "What can be done"))))),
    h("tbody", null, runs.map((r) => h("tr", null, h("td", null, r.run), h("td", null, format.day(r.started)), h("td", null, mark(r.state)),
      h("td.number", null, `${r.drawn} of ${r.strokes}`), h("td.number", null, format.length(r.ink_mm)), h("td.number", null, format.duration(r.predicted_s)),
      h("td.number", null, format.duration(r.time_s)), h("td", null, file(r.program)),
      h("td", null, r.state !== "done" && r.state !== "running" ? button("Resume…", async () => {
        if (await move("resume", { run: r.run, back_strokes: 0, from_place: false })) window.deskPage.show("draw");
      }, { disabled: isActive() }) : null))))));
}

function pens(runs) {
  const sums = new Map();
  for (const run of runs) for (const p of run.pens) sums.set(p.pen, (sums.get(p.pen) ?? 0) + p.ink_mm);
  const most = Math.max(1, ...sums.values());
  const rows = [...sums].sort((a, b) => b[1] - a[1]).slice(0, 12).map(([name, mm]) => {
    const pen = desk.machine?.pens.find((p) => p.name === name);
    return h("li", null, h("span", null, name || "not named"), h("meter.bar", { max: most, value: mm, colour: pen?.colour ?? "#808080", "aria-label": `Ink of ${name || "a pen without a name"}` }), h("b", null, format.length(mm)));
  });
  return [h("h3", null, "Ink for each pen"), h("ul.bars", null, rows), h("p.help", null, "Tips wear: compare a line's width now and then.")];
}

/* Predicted over taken time, each whole run a point; on the diagonal the prediction was right. */
function plot(runs) {
  const points = runs.filter((r) => r.state === "done" && r.predicted_s > 0 && r.time_s >= r.predicted_s / 3);
  if (points.length < 1) return [h("h3", null, "Time predicted and taken"), h("p.soft", null, "Runs on a real machine's clock are compared here; a virtual machine that runs faster is left out.")];
  const W = 460, H = 270, E = 92, most = Math.max(...points.flatMap((r) => [r.time_s, r.predicted_s])) * 1.08;
  const x = (s) => E + (s / most) * (W - E - 12), y = (s) => H - E + 12 - (s / most) * (H - E - 4);
  const ticks = [0, 0.5, 1].map((k) => k * most * 0.92);
  return [h("h3", null, "Time predicted and taken"), svg("svg", { viewBox: `0 0 ${W} ${H + 14}`, class: "plot", role: "img", "aria-label": `Time taken over time predicted for ${points.length} runs` },
    svg("path", { class: "axis", d: `M${E} 4V${H - E + 12}H${W - 8}` }), svg("path", { class: "ideal", d: `M${x(0)} ${y(0)}L${x(most)} ${y(most)}` }),
    ticks.map((t) => [svg("text", { x: x(t), y: H - E + 28, "text-anchor": "middle" }, format.duration(t)), t ? svg("text", { x: E - 6, y: y(t) + 4, "text-anchor": "end" }, format.duration(t)) : null]),
    svg("text", { x: (W + E) / 2, y: H + 6, "text-anchor": "middle" }, "predicted"), svg("text", { x: E + 8, y: 14 }, "taken"),
    points.map((r) => svg("circle", { cx: x(r.predicted_s), cy: y(r.time_s), r: 4.5 })))];
}

export function logPage() {
  const body = h("div.log");
  let shown = -1;
  const load = async () => {
    const { runs, notes } = await get("/log");
    const latest = [...runs].reverse();
    fill(body, latest.length ? [table(latest.slice(0, 200)), h("div.columns", null, h("section", null, pens(runs)), h("section", null, plot(runs)))]
      : h("p.empty", null, "No run yet. What is drawn is noted here: time, ink and travel, pen by pen."),
    notes.length ? [h("h3", null, "Notes"), h("ul.plain", null, notes.slice(-50).reverse().map((n) => h("li", null, `${format.day(n.at)}  ${n.machine}  ${n.kind}: ${n.text}`)))] : null);
  };
  return {
    node: [h("h2", null, "Log"), body],
    update() {
      const number = desk.log?.number ?? 0;
      if (number === shown) return;
      shown = number;
      load().catch((error) => fill(body, h("p.soft", null, error.message)));
    },
  };
}

/* What is not finished, and the sum of all. */
export function logSide() {
  const open = h("div"), sums = h("dl.facts");
  let shown = -1;
  const load = async () => {
    const { runs } = await get("/log");
    const sum = (name) => runs.reduce((all, r) => all + r[name], 0);
    fill(sums, [["Runs", runs.length], ["Ink", format.length(sum("ink_mm"))], ["Travel", format.length(sum("travel_mm"))], ["Strokes", sum("drawn").toLocaleString("en")],
      ["Time of the machine", format.duration(sum("time_s"))]].map(([name, value]) => [h("dt", null, name), h("dd", null, value)]));
  };
  return {
    node: [open, h("section.panel", null, h("h2", null, "All runs together"), sums)],
    update() {
      if ((desk.log?.number ?? 0) === shown) return;
      shown = desk.log?.number ?? 0;
      const u = desk.log?.unfinished;
      fill(open, u && !isActive() ? h("div.note.asks", null, h("b", null, `Run ${u.run} is not finished. `),
        `${u.drawn} of ${format.count(u.strokes, "stroke")} drawn, ${u.state}${u.note ? `: ${u.note}` : ""}.`) : null);
      load().catch(() => {});
    },
  };
}
