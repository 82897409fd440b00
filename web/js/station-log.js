/* station-log: past runs, ink for each pen against its tip's life, time predicted and taken, accuracy over the
 * months. */
import { h, fill, svg, button, whenFree } from "./dom.js";
import { desk, ask, get, move, isActive } from "./desk.js";
import * as format from "./format.js";
import { SHAPES, runState } from "./states.js";
import { plot, niceSteps } from "./plot.js";
import { tr, plural, whole } from "./words.js";

const glyph = (word, tone, shape) => h("span.state.small", { "data-tone": tone },
  svg("svg", { viewBox: "-8 -8 16 16", width: 13, height: 13, "aria-hidden": "true" }, svg("path", { d: SHAPES[shape] })), word);
const mark = (state) => glyph(...runState(state));

const file = (path) => path.slice(path.lastIndexOf("/") + 1);

const FIRST_ROWS = 8;
let all = false; // rows are shown

function table(runs, redraw) {
  const shown = all ? runs : runs.slice(0, FIRST_ROWS);
  const more = runs.length > FIRST_ROWS ? h("div.row", null, button(all ? tr("Show the latest alone") : tr("Show all {0} runs", runs.length), () => {
    all = !all;
    redraw();
  })) : null;
  const head = [tr("Run"), tr("Began"), tr("State"), tr("Strokes"), tr("Ink"), tr("Predicted"), tr("Took"), tr("Program"), ""];
  return [h("div.scroll", { tabIndex: 0, role: "region", "aria-label": tr("Past runs") }, h("table", null,
    h("thead", null, h("tr", null, head.map((t) => h("th", { scope: "col" }, t || h("span.hidden", null, tr("What can be done")))))),
    h("tbody", null, shown.map((r) => h("tr", null, h("td", null, r.run), h("td", null, format.day(r.started)), h("td", null, mark(r.state)),
      h("td.number", null, tr("{0} of {1}", r.drawn, r.strokes)), h("td.number", null, format.length(r.ink_mm)), h("td.number", null, format.duration(r.predicted_s)),
      h("td.number", null, format.duration(r.time_s)), h("td", null, file(r.program)),
      h("td", null, r.state !== "done" && r.state !== "running" ? button(tr("Resume…"), async () => {
        if (await move("resume", { run: r.run, back_strokes: 0, from_place: false })) window.deskPage.show("draw");
      }, { disabled: isActive() }) : null)))))), more];
}

/* Ink against the life of its tip ------------------------------------------------------------------- */

const NEARLY_WORN = 0.9;

/* Of this machine's pens: ink since the tip was new, mm, and when that was. */
function tipUse(pen, runs, notes) {
  const fresh = notes.filter((n) => n.machine === desk.machine.name && n.kind === "new tip" && n.text === pen.name).reduce((t, n) => Math.max(t, n.at), 0);
  const own = runs.filter((r) => r.machine === desk.machine.name && r.started >= fresh);
  return { fresh, mm: own.flatMap((r) => r.pens).filter((p) => p.pen === pen.name).reduce((sum, p) => sum + p.ink_mm, 0) };
}

function lifeText(use, life) {
  if (!(life > 0)) return [tr("its life is not set"), "still", "ring"];
  const share = use.mm / life, percent = share >= 2 ? tr("{0} times", whole(Math.floor(share))) : share < 0.1 ? `${(share * 100).toFixed(1)} %` : `${Math.round(share * 100)} %`;
  if (share >= 1) return [tr("worn by its figure: {0}{1} {2}", percent, share < 2 ? tr(" of") : "", format.length(life)), "bad", "cross"];
  if (share >= NEARLY_WORN) return [tr("nearly worn: {0} of {1}", percent, format.length(life)), "asks", "diamond"];
  return [tr("{0} of {1}", percent, format.length(life)), "good", "disc"];
}

function penRow(pen, runs, notes) {
  const use = tipUse(pen, runs, notes), [text, tone, shape] = lifeText(use, pen.life_mm);
  const since = use.fresh ? tr("since {0}", format.day(use.fresh).slice(0, 10)) : tr("in all runs");
  const fresh = button(tr("New tip"), () => ask("new-tip", { pen: pen.name }), { disabled: isActive() });
  fresh.setAttribute("aria-label", tr("The {0} pen has a new tip", pen.name));
  return h("li.life", null, h("span.swatch", { colour: pen.colour, "aria-hidden": "true" }),
    h("div", null, h("b", null, pen.name), h("span.soft", null, ` ${format.length(use.mm)} ${since}`),
      pen.life_mm > 0 ? h("meter.bar", { min: 0, max: pen.life_mm, value: Math.min(use.mm, pen.life_mm), colour: pen.colour, "aria-label": tr("Ink of the {0} pen against its tip's life", pen.name) }) : null,
      glyph(text, tone, shape)), fresh);
}

function pens(runs, notes) {
  const own = desk.machine?.pens ?? [];
  return [h("h3", null, tr("Ink for each pen, against its tip's life")), h("ul.plain.lives", null, own.map((p) => penRow(p, runs, notes))),
    h("p.help", null, own.some((p) => p.life_mm > 0) ? tr("A tip's life is set in Machine, at its pen. Tips wear: compare a line's width now and then.")
      : tr("How much ink a tip lays before it is worn can be set in Machine, at its pen: ask its maker, or go by your own pens."))];
}

/* Time predicted and taken --------------------------------------------------------------------------- */

/* Each whole run a point; on the diagonal the prediction was right. */
function times(runs) {
  const points = runs.filter((r) => r.state === "done" && r.predicted_s > 0 && r.time_s >= r.predicted_s / 3);
  if (points.length < 1) return [h("h3", null, tr("Time predicted and taken")), h("p.soft", null, tr("Runs on a real machine's clock are compared here; a virtual machine that runs faster is left out."))];
  const most = Math.max(...points.flatMap((r) => [r.time_s, r.predicted_s])) * 1.05;
  const unit = most > 7200 ? [3600, "h"] : most > 120 ? [60, "min"] : [1, "s"];
  const ticks = niceSteps(0, most / unit[0], 4).map((v) => [v * unit[0], `${+v.toFixed(2)}`]);
  const off = points.map((r) => Math.abs(r.predicted_s / r.time_s - 1)).sort((a, b) => a - b);
  return [h("h3", null, tr("Time predicted and taken")), plot({
    label: tr("Time taken over time predicted for {0} runs", points.length), x: { from: 0, to: most, ticks, title: tr("predicted, {0}", unit[1]) }, y: { from: 0, to: most, ticks, title: tr("taken, {0}", unit[1]) },
    ideal: [0, 0, most, most], series: [{ class: "run", points: points.map((r) => ({ x: r.predicted_s, y: r.time_s, title: tr("Run {0}: {1} predicted, {2} taken", r.run, format.duration(r.predicted_s), format.duration(r.time_s)) })) }],
  }), h("p.help", null, tr("Half of {0} took within {1} % of what was predicted; on the dashed line the prediction was right.", plural(points.length, "{0} run", "{0} runs"), (off[Math.floor(off.length / 2)] * 100).toFixed(1)))];
}

/* Accuracy over the months ----------------------------------------------------------------------------- */

const EXPECTED = tr("expected ink error");
let figure = EXPECTED;

function dateTicks(from, to) {
  const days = (to - from) / 86400;
  if (days < 3) return niceSteps(from, to, 3).map((t) => [t, days < 1 ? format.day(t).slice(11) : format.day(t).slice(5)]);
  return [0, 1 / 3, 2 / 3, 1].map((k) => [from + k * (to - from), format.day(from + k * (to - from)).slice(0, 10)]);
}

/* Values of one figure over the sheets: a series for each axis. */
function seriesOf(sheets, name) {
  if (name === EXPECTED) {
    const read = sheets.filter((s) => s.ink_mm !== null);
    return [{ class: "first", name: tr("as the profile was"), line: true, points: read.map((s) => ({ x: s.at, y: s.ink_mm, bar: 0, title: tr("Sheet {0} of {1}: {2} mm", s.number, s.date, s.ink_mm.toFixed(3)) })) },
      { class: "second", name: tr("with the corrections that followed"), line: true, points: read.map((s) => ({ x: s.at, y: s.corrected_mm, bar: 0, title: tr("Sheet {0} of {1}, corrected: {2} mm", s.number, s.date, s.corrected_mm.toFixed(3)) })) }];
  }
  return ["X", "Y", null].map((axis, i) => ({
    class: ["first", "second", "first"][i], name: axis ?? "", line: true,
    points: sheets.flatMap((s) => s.figures.filter((f) => f.title === name && f.axis === axis && f.pen === null && f.value !== null)
      .map((f) => ({ x: s.at, y: f.value, bar: f.interval ?? 0, title: tr("Sheet {0} of {1}{2}: {3} ± {4} {5}", s.number, s.date, axis ? `, ${axis}` : "", f.text.value, f.text.interval ?? "?", f.text.unit ?? "") }))),
  })).filter((s) => s.points.length);
}

function accuracy(sheets, redraw) {
  const head = h("h3", null, tr("Accuracy over the months")), read = sheets.filter((s) => s.read);
  if (!read.length) return [head, h("p.soft", null, tr("Each test sheet that is read adds a point here. Measure has the sheets."))];
  const names = [EXPECTED, ...new Set(read.flatMap((s) => s.figures.filter((f) => f.pen === null).map((f) => f.title)))];
  if (!names.includes(figure)) figure = EXPECTED;
  const select = h("select", { onchange: () => {
    figure = select.value;
    redraw();
  } }, names.map((n) => h("option", { value: n, selected: n === figure }, format.sentence(n).slice(0, -1))));
  const series = seriesOf(read, figure), all = series.flatMap((s) => s.points);
  const unit = figure === EXPECTED ? "mm" : read.flatMap((s) => s.figures).find((f) => f.title === figure)?.text.unit ?? "";
  if (!all.length) return [head, h("label.field", null, h("span", null, tr("Figure")), select), h("p.soft", null, tr("No sheet shows it yet."))];
  const low = Math.min(...all.map((p) => p.y - p.bar)), high = Math.max(...all.map((p) => p.y + p.bar)), pad = (high - low) * 0.08 || Math.abs(high) * 0.1 || 1;
  const from = low >= 0 && low < high * 0.6 ? 0 : low - pad, to = high + pad, steps = niceSteps(from, to, 4);
  const digits = Math.max(0, Math.min(6, -Math.floor(Math.log10((steps[1] ?? 1) - (steps[0] ?? 0) || 1) + 1e-9)));
  let first = Math.min(...all.map((p) => p.x)), last = Math.max(...all.map((p) => p.x));
  const spread = Math.max((last - first) * 0.04, 1800);
  [first, last] = [first - spread, last + spread];
  return [head, h("label.field", null, h("span", null, tr("Figure")), select), plot({
    label: tr("{0} {1}, {2} points", format.sentence(figure), plural(read.length, "{0} sheet", "{0} sheets"), all.length), x: { from: first, to: last, ticks: dateTicks(first + spread, last - spread), title: "" },
    y: { from, to, ticks: steps.map((v) => [v, v.toFixed(digits)]), title: unit }, series,
  }), h("ul.legend", null, series.filter((s) => s.name).map((s) => h("li", { className: s.class }, h("i.sample", { "aria-hidden": "true" }), s.name.length === 1 ? tr("axis {0}", s.name) : s.name))),
  h("p.help", null, figure === EXPECTED ? tr("95 % of the ink on a sheet is expected within this distance of its line.") : tr("Bars are 95 % intervals."))];
}

export function logPage() {
  const body = h("div.log");
  let shown = "";
  const load = async () => {
    const [{ runs, notes }, { sheets }] = await Promise.all([get("/log"), get("/sheets")]);
    const latest = [...runs].reverse(), course = h("section"), rows = h("div");
    const list = () => fill(rows, latest.length ? table(latest.slice(0, 200), list) : h("p.empty", null, tr("No run yet. What is drawn is noted here: time, ink and travel, pen by pen.")));
    list();
    const draw = () => fill(course, accuracy(sheets, draw));
    draw();
    const others = notes.filter((n) => n.kind !== "new tip");
    whenFree(() => fill(body, rows,
      h("div.columns", null, h("section", null, pens(runs, notes)), latest.length ? h("section", null, times(runs)) : null, course),
      others.length ? [h("h3", null, tr("Notes")), h("ul.plain", null, others.slice(-50).reverse().map((n) => h("li", null, `${format.day(n.at)}  ${n.machine}  ${n.kind}: ${n.text}`)))] : null));
  };
  return {
    node: [h("h2", null, tr("Log")), body],
    update() {
      const now = JSON.stringify([desk.log?.number, desk.measure?.number, desk.machine?.name, desk.machine?.pens, isActive()]);
      if (now === shown || !desk.machine) return;
      shown = now;
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
    fill(sums, [[tr("Runs"), runs.length], [tr("Ink"), format.length(sum("ink_mm"))], [tr("Travel"), format.length(sum("travel_mm"))], [tr("Strokes"), whole(sum("drawn"))],
      [tr("Time of the machine"), format.duration(sum("time_s"))]].map(([name, value]) => [h("dt", null, name), h("dd", null, value)]));
  };
  return {
    node: [open, h("section.panel", null, h("h2", null, tr("All runs together")), sums)],
    update() {
      if ((desk.log?.number ?? 0) === shown) return;
      shown = desk.log?.number ?? 0;
      const u = desk.log?.unfinished;
      fill(open, u && !isActive() ? h("div.note.asks", null, h("b", null, tr("Run {0} is not finished. ", u.run)),
        tr("{0} of {1} drawn, {2}{3}.", u.drawn, plural(u.strokes, "{0} stroke", "{0} strokes"), runState(u.state)[0], u.note ? `: ${u.note}` : "")) : null);
      load().catch(() => {});
    },
  };
}
