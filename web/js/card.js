/* card: the one thing that is next: what to do now, why, and what to check, with one main button. The
 * rest is folded away. A card is built once for its situation and then kept up to date. */
import { byId, h, fill, button, fold, tick } from "./dom.js";
import { desk, ask, move, may, penOf, get } from "./desk.js";
import * as format from "./format.js";
import { job, total } from "./time.js";

let go = () => {};
export const onGo = (what) => { go = what; };

const penLine = (pen, ...lines) => h("div.pen", null,
  h("span.swatch", { colour: pen.colour, "aria-hidden": "true" }),
  h("div", null, h("b", null, `${pen.name}, ${pen.tip_mm} mm`), ...lines.map((t) => h("div", null, t))));

const CAUTION = "Keep fingers, hair and sleeves clear of the axes and cords, stay with the machine while it " +
  "draws, and know how to cut its supply. Local rules and trained people come first.";

/* What each pen has to do. */
function shares() {
  const parts = job.inkNumber === desk.drawing.ink ? (job.summary?.parts ?? []) : [];
  return parts.map((part) => ({ ...part, pen: penOf(part.pen), s: part.to - part.from }));
}

const partOf = (name) => shares().find((part) => part.pen.name === name);

function warn(text, tone = "warn") {
  return text ? h(`div.note.${tone}`, null, text) : null;
}

/* No drawing ------------------------------------------------------------------------------------ */

function files(folder, list) {
  const show = async (at) => {
    fill(list, h("p.soft", null, "Looking…"));
    try {
      const { entries } = await get(`/files?folder=${encodeURIComponent(at)}`);
      const inside = (name) => (at ? `${at}/${name}` : name);
      const up = at.includes("/") ? at.slice(0, at.lastIndexOf("/")) : "";
      fill(list, at ? button("↑ One folder up", () => show(up), { className: "plain" }) : null,
        entries.map((e) => button(e.folder ? `${e.name}/` : e.name,
          () => (e.folder ? show(inside(e.name)) : ask("open", { path: inside(e.name) })), { className: "plain" })),
        entries.length ? null : h("p.soft", null, "Nothing in it can be drawn."));
    } catch (error) {
      fill(list, h("p.soft", null, error.message));
    }
  };
  show(folder);
}

function emptyCard() {
  const list = h("div.files");
  const open = fold("From the folder of the desk", list);
  open.addEventListener("toggle", () => { if (open.open) files("", list); });
  const unfinished = h("div");
  return {
    node: [h("h2", null, "Put a drawing on the bed"),
      h("p", null, "Drop an SVG, a PDF page, a photograph or a program anywhere on this page, or choose a file."),
      unfinished,
      button("Choose a file", () => byId("file").click(), { main: true }), open],
    update() {
      const u = desk.log?.unfinished;
      if (u?.state === "running") {
        fill(unfinished, h("div.note.asks", null, h("b", null, `Run ${u.run} is being drawn by another program. `),
          `${u.program}: ${u.drawn} of ${format.count(u.strokes, "stroke")}. It has the port until it ends.`));
        return;
      }
      fill(unfinished, u ? [
        h("div.note.asks", null, h("b", null, `Run ${u.run} is not finished. `),
          `${u.program}: ${u.drawn} of ${format.count(u.strokes, "stroke")} drawn, ${u.state}.`,
          h("div.row", null, button("Look at it", () => prepare(u.run)))),
      ] : null);
    },
  };
}

async function prepare(run, more) {
  if (await move("resume", { run, back_strokes: 0, from_place: false, ...more })) go("draw");
}

/* A plan ---------------------------------------------------------------------------------------- */

function workingCard() {
  const bar = h("progress", { max: 1, "aria-label": "Progress of the plan" }), stage = h("p.soft");
  return {
    node: [h("h2", null, "Planning"), stage, bar],
    update() {
      stage.textContent = desk.drawing.stage ? `${desk.drawing.stage}…` : "…";
      if (desk.drawing.stage_done > 0) bar.value = desk.drawing.stage_done;
      else bar.removeAttribute("value");
    },
  };
}

function failedCard() {
  const why = h("p.long"), fix = h("div");
  return {
    node: [h("h2", null, "This cannot be drawn yet"), why, fix,
      button("Choose another file", () => byId("file").click(), { main: true }),
      button("Try it again", () => ask("again"), { className: "block" })],
    update() {
      why.textContent = desk.drawing.problem ?? "";
      fill(fix, desk.drawing.is_program
        ? button("Fix the program for this machine", () => ask("mend"), { className: "block" }) : null);
    },
  };
}

function planCard() {
  const list = h("div"), figures = h("p"), sheets = h("div"), wait = h("p.soft"), error = h("p.expected");
  const main = button("Go to Draw", () => go("draw"), { main: true });
  const notes = h("ul.plain"), colours = h("ul.plain");
  const folds = [fold("Where the time goes", h("ul.plain.times")), fold("Colours and pens", colours), fold("Notes of the reader", notes)];
  return {
    node: [h("h2", null, "Ready to be drawn"), figures, list, error, sheets, wait, main, folds,
      button("Take it off the bed", () => ask("clear"), { className: "block plain" })],
    update() {
      const { drawing } = desk, report = drawing.report ?? {};
      const changes = Math.max(0, shares().length - 1);
      figures.textContent = `${format.duration(total())}${changes ? ` and ${format.count(changes, "pen change")}` : ""}, ` +
        `${format.count(drawing.strokes, "stroke")}.`;
      fill(list, shares().slice(0, 8).map((part) => penLine(part.pen,
        `${format.count(part.strokes, "stroke")}, ${format.duration(part.s)}`)));
      fill(sheets, drawing.sheets > 1 ? h("label.field", null, h("span", null, "Sheet"),
        h("select", { onchange: (e) => ask("choose-sheet", { sheet: Number(e.target.value) }) },
          Array.from({ length: drawing.sheets }, (_, i) => h("option", { value: i, selected: i === drawing.sheet }, `${i + 1} of ${drawing.sheets}`)))) : null);
      fill(error, expected(report.expected_ink_error));
      wait.textContent = drawing.state === "ready" ? "" : "The program is being written and checked…";
      main.disabled = drawing.state !== "ready";
      const times = folds[0].querySelector("ul");
      fill(times, [["Ink", report.ink_s], ["Travel", report.travel_s], ["Lifts", report.lift_s], ["Homing", report.home_s],
        ["Pen changes by hand", report.change_s]].filter(([, s]) => s > 0).map(([name, s]) =>
        h("li.pair", null, h("span", null, name), h("b", null, format.duration(s)))));
      folds[0].hidden = !times.children.length;
      fill(colours, (report.colours ?? []).slice(0, 24).map((c) => h("li.pair", null,
        h("span", null, h("i.dot", { colour: c.colour, "aria-hidden": "true" }), ` ${c.colour}`),
        h("b", null, c.pen ? `${c.pen}${c.coverage < 1 ? ` ${Math.round(c.coverage * 100)} %` : ""}${c.across ? ` + ${c.across}` : ""}` : "left to the paper"))));
      folds[1].hidden = !colours.children.length;
      const lines = report.notes ?? (report.findings ?? []).map((f) => `line ${f.line}: ${f.text}`);
      fill(notes, lines.slice(0, 30).map((text) => h("li", null, text)));
      folds[2].hidden = !lines.length;
    },
  };
}

/* How true the drawing will be, by what this machine's sheets have shown. */
function expected(e) {
  if (!e) return null;
  if (!e.measured) return h("span.soft", null, e.why_not ? `How true it will be cannot be told: ${e.why_not}` : "How true it will be is not known: this machine has not been measured. Measure has test sheets.");
  return [`95 % of the ink is expected within `, h("b", null, `${e.p95_mm.toFixed(2)} mm`), ` of its line${e.not_measured.length ? " at least" : ""}, the worst within ${e.largest_mm.toFixed(2)} mm `,
    h("span.soft", null, `(sheet ${e.sheet}, `, h("span.whole", null, e.date), ")"), e.not_measured.length ? h("span.soft", null, `. Not measured: ${e.not_measured.join(", ")}.`) : ".",
    e.not_corrected.length ? h("span.soft", null, ` The profile differs from what the sheets show: ${e.not_corrected.join(", ")}.`) : null];
}

/* Before it starts ------------------------------------------------------------------------------- */

function startCard() {
  const checks = h("ul.checks"), body = h("div"), objections = h("div");
  const main = button("Start drawing", async () => {
    await move("start", { revision: desk.drawing.revision, despite: accepted() });
  }, { main: true });
  let box = null;
  const accepted = () => box?.box.checked ?? false;
  let shown = "";
  return {
    node: [h("h2", null, ""), body, checks, objections, main,
      fold("Cautions", h("p", null, CAUTION), h("p", null, "Where a laser is fitted: eyes protected for its wavelength, an enclosure, fumes led away, something at hand against fire."))],
    title: true,
    update(node) {
      const concerns = desk.run.concerns, resumes = desk.run.resumes > 0;
      node.querySelector("h2").textContent = resumes ? `Resume run ${desk.run.resumes}` : "Before the pen moves";
      const key = JSON.stringify([concerns, desk.machine.port, desk.drawing.paper, desk.drawing.skip]);
      if (key !== shown) {
        shown = key;
        const items = concerns.map(check).filter(Boolean);
        const { skip, strokes } = desk.drawing;
        if (skip > 0) items.unshift(h("li", null, `It begins with stroke ${(skip + 1).toLocaleString("en")} of ${strokes.toLocaleString("en")}; what comes before is not drawn.`,
          h("div.row", null, button("Begin at the start", () => ask("begin-at", { skip: 0, revision: desk.drawing.revision })))));
        if (!resumes) items.unshift(h("li", null, `The pen is clear of the paper, and the axes are free from end to end.`));
        fill(checks, items);
        const doubts = concerns.filter((c) => c.rank !== "note");
        box = doubts.length ? tick("Draw it all the same", () => this.update(node)) : null;
        fill(objections, doubts.map((c) => warn(c.text)), box);
        fill(body, concerns.some((c) => c.kind === "first-run")
          ? warn("First run on this machine. " + CAUTION, "asks") : null,
        desk.machine.port ? null : warn("No port is chosen: choose one in Machine."));
      }
      main.textContent = resumes ? "Go on drawing" : "Start drawing";
      main.disabled = !desk.machine.port || (box !== null && !accepted());
    },
  };
}

function check(c) {
  if (c.kind === "sheet") {
    const [x0, y0, x1, y1] = desk.drawing.paper;
    return h("li", null, desk.drawing.left && desk.drawing.right
      ? "The sheet lies where its corners were touched."
      : `Paper ${desk.drawing.paper_name}, ${+(x1 - x0).toFixed(1)} × ${+(y1 - y0).toFixed(1)} mm, lies with its lower left corner ${+x0.toFixed(1)} mm to the right of the origin and ${+y0.toFixed(1)} mm behind it.`);
  }
  if (c.kind === "pen") {
    const pen = desk.machine.pens.find((p) => p.name === c.pen);
    return h("li", null, "In the holder:", pen ? penLine(pen) : ` ${c.pen}`);
  }
  if (c.kind === "homes") return h("li", null, "It homes first: both axes run to their switches.");
  if (c.kind === "wire") return h("li", null, `${c.text[0].toUpperCase()}${c.text.slice(1)}.`);
  if (c.kind === "resumes") return h("li", null, c.text.replace(/^resumes\s+/, ""));
  return null;
}

/* While it draws --------------------------------------------------------------------------------- */

const request = (name) => move("request", { request: name });

function sideSteps(stands = false) {
  return [fold(stands ? "Look at the sheet, or end" : "Pause, or look at the sheet", h("div.stack", null,
    stands ? null : button("Pause at the next lift", () => request("pause-at-lift"), { "data-may": "pause-at-lift" }),
    button("Wait at the next pen change", () => request("pause-at-change"), { "data-may": "pause-at-change" }),
    button("Park and look at the sheet", () => request("park"), { "data-may": "park" }),
    button("End the run", () => request("stop"), { "data-may": "stop", className: "danger" })))];
}

function allow(node) {
  for (const b of node.querySelectorAll("[data-may]")) b.disabled = !may(b.dataset.may);
}

function drawingCard() {
  const now = h("div"), bar = h("progress", { max: 1, "aria-label": "Part of the job that is drawn" }), figures = h("p");
  return {
    node: [h("h2", null, "Drawing"), now, bar, figures,
      button("Pause at the next lift", () => request("pause-at-lift"), { main: true, "data-may": "pause-at-lift" }), sideSteps()],
    update(node) {
      const { session } = desk, pen = desk.machine.pens.find((p) => p.name === session.pen_name);
      node.querySelector("h2").textContent = session.state === "homing" ? "Homing: keep clear"
        : session.state === "recovering" ? "Bringing the board back" : session.state === "ending" ? "Ending: the pen is lifted"
          : session.state === "opening" ? "Waiting for the board" : `Drawing with ${session.pen_name || "the pen"}`;
      const part = partOf(session.pen_name);
      fill(now, pen ? penLine(pen, part ? `${format.count(part.strokes, "stroke")}, ${format.duration(part.s)}` : "") : null);
      bar.value = session.done;
      figures.textContent = `${format.percent(session.done)}: stroke ${Math.min(session.stroke + 1, session.strokes)} of ${session.strokes.toLocaleString("en")}, ${format.length(session.ink_mm)} of ink.`;
      allow(node);
    },
  };
}

function penCard() {
  const { session } = desk, name = session.pen_name;
  const pen = desk.machine.pens.find((p) => p.name === name) ?? { name: name || "next", colour: "#808080", tip_mm: "?" };
  const part = partOf(name), before = shares()[shares().findIndex((p) => p.pen.name === name) - 1];
  const first = session.stroke === 0;
  const main = button("Go on", () => request("go-on"), { main: true, disabled: true, "data-may": "go-on" });
  const box = tick(first ? "It is in the holder, its tip clear of the paper"
    : "It is in, and its tip sits at the same height as the last one", () => this_.update());
  const this_ = {
    node: [h("h2", null, name ? `Put the ${name} pen in` : "The program asks for a person"),
      h("p", null, first || !before ? "The carriage stands at the change place, the pen up."
        : `${format.title(before.pen.name)} is finished: ${format.count(before.strokes, "stroke")}. The carriage stands at the change place.`),
      name ? penLine(pen, part ? `${format.count(part.strokes, "stroke")}, ${format.duration(part.s)}` : "") : null,
      box, main, fold("Before it goes on", h("p", null, CAUTION)), sideSteps()],
    update() {
      main.disabled = !box.box.checked || !may("go-on");
      for (const b of byId("card").querySelectorAll(".fold [data-may]")) b.disabled = !may(b.dataset.may);
    },
  };
  return this_;
}

function pausedCard() {
  const why = h("p");
  return {
    node: [h("h2", null, ""), why, button("Go on", () => request("go-on"), { main: true, "data-may": "go-on" }), sideSteps(true)],
    update(node) {
      const { state } = desk.session;
      node.querySelector("h2").textContent = state === "held" ? "Held where it is" : state === "parked" ? "Parked" : "Paused";
      why.textContent = state === "held" ? "The pen is up, in the middle of a line. Going on drops it at the same point."
        : state === "parked" ? "The pen is up at the park place, the sheet can be seen. It returns to the same point, the slack taken up from the same side."
          : "The pen is up between two strokes.";
      allow(node);
    },
  };
}

function lostCard() {
  return {
    node: [h("h2", null, "The board is unplugged"),
      h("p", null, "Plug it in again. It homes, and goes on with the stroke that is not wholly drawn; what is drawn is in the journal."),
      h("p.soft", null, "It waits ten minutes, then the run ends and can be resumed."),
      button("End the run", () => request("stop"), { main: true, "data-may": "stop" })],
    update: allow,
  };
}

/* Why it ended, without what the card says itself. */
const reason = (text) => text.replace(/: \d+ of \d+ strokes? (is|are) drawn[^]*$/, "");

/* Afterwards --------------------------------------------------------------------------------------- */

function endedCard() {
  const { run } = desk, good = run.ended === "done";
  const back = h("input", { type: "number", min: 0, max: 100000, value: 0 });
  const id = run.id || run.resumes;
  const anew = button("Draw it again from the start", () => ask("again"), { main: !good && !id });
  const main = good ? button("Put another drawing on the bed", () => ask("clear"), { main: true }) : !id ? anew
    : button("Resume", () => prepare(id, { back_strokes: Math.max(0, Math.round(back.valueAsNumber || 0)) }), { main: true });
  return {
    node: [h("h2", null, good ? "Drawn" : run.ended === "stopped" ? "Stopped by hand" : "The run broke off"),
      h("p.long", null, good ? run.text : reason(run.text) === "stopped by hand" ? "The pen is up and the motors are let go." : format.sentence(reason(run.text))),
      /no longer answers/.test(run.text) ? warn("The board no longer answers: switch it off and lift the pen by hand.") : null,
      good ? null : h("p", null, `What is certain: ${run.stroke} of ${format.count(run.strokes, "stroke")} are drawn, ${format.length(run.ink_mm)} of ink.`),
      good || !id ? null : h("label.field", null, h("span", null, "Go back by strokes before that"), back),
      good || !id ? null : h("p.soft", null, "Or point at a stroke on the bed and go on from there."),
      main,
      h("div.stack", null, good || id ? anew : null,
        good ? null : button("Put another drawing on the bed", () => ask("clear")))],
    update() {},
  };
}

function waitCard() {
  return {
    node: [h("h2", null, "Almost ready"), h("p", null, "The program is being written and checked…"), h("progress", { "aria-label": "Progress of the check" })],
    update() {},
  };
}

/* ---------------------------------------------------------------------------------------------------- */

function portCard() {
  const list = h("div.stack");
  let shown = "";
  return {
    node: [h("h2", null, "Choose the controller's port"), h("p", null, "Connect the board and switch its supply on; then choose where it is."), list,
      button("Look again", () => ask("look-for-ports"), { main: true })],
    update() {
      const key = JSON.stringify(desk.machine.ports);
      if (key === shown) return;
      shown = key;
      fill(list, desk.machine.ports.map((p) => button(p.text ? `${p.path}: ${p.text}` : p.path, () => ask("choose-port", { path: p.path }))),
        desk.machine.ports.length ? null : h("p.soft", null, "No serial port is plugged in. 'drawtrue desk --rig' brings a virtual machine to try."));
    },
  };
}

/* Which card: its name, and how it is built. */
function choose(station) {
  const { session, drawing, run } = desk;
  if (run.phase === "active") {
    if (session.state === "pen-change") return [`pen-${session.serial}`, penCard];
    if (["paused", "held", "parked"].includes(session.state)) return ["paused", pausedCard];
    if (session.state === "unplugged") return ["lost", lostCard];
    return ["drawing", drawingCard];
  }
  if (["measure", "machine", "log"].includes(station)) return ["none", () => ({ node: [], update() {} })];
  if (run.phase === "ended" && station !== "drawing") return [`ended-${run.id}-${run.ended}`, endedCard];
  if (!drawing.name) return ["empty", emptyCard];
  if (drawing.state === "failed") return ["failed", failedCard];
  if (drawing.state === "working" && !drawing.strokes) return ["working", workingCard];
  if (station === "draw" && !desk.machine.port && !run.resumes) return ["port", portCard];
  if (station === "draw" && run.phase === "ready") return ["start", startCard];
  if (station === "draw") return ["wait", waitCard];
  return ["plan", planCard];
}

let current = null;
export function showCard(station) {
  if (!desk.session || !desk.drawing || !desk.run) return;
  const [name, build] = choose(station), node = byId("card");
  if (current?.name !== name) {
    const held = node.contains(document.activeElement);
    current = { name, ...build() };
    fill(node, current.node);
    const head = node.querySelector("h2");
    if (head) head.tabIndex = -1;
    if (held) head?.focus(); // never a button: a key struck for the last card must not press it
  }
  current.update(node);
}
