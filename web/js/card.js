/* card: the one thing that is next: what to do now, why, and what to check, with one main button. The
 * rest is folded away. A card is built once for its situation and then kept up to date. */
import { byId, h, fill, button, fold, tick } from "./dom.js";
import { desk, ask, move, may, penOf, get } from "./desk.js";
import * as format from "./format.js";
import { runState } from "./states.js";
import { job, total } from "./time.js";
import { tr, trc, plural, whole } from "./words.js";

let go = () => {};
export const onGo = (what) => { go = what; };

const penLine = (pen, ...lines) => h("div.pen", null,
  h("span.swatch", { colour: pen.colour, "aria-hidden": "true" }),
  h("div", null, h("b", null, `${pen.name}, ${pen.tip_mm} mm`), ...lines.map((t) => h("div", null, t))));

const CAUTION = tr("Keep fingers, hair and sleeves clear of the axes and cords, stay with the machine while it draws, and know how to cut its supply. Local rules and trained people come first.");

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
    fill(list, h("p.soft", null, tr("Looking…")));
    try {
      const { entries } = await get(`/files?folder=${encodeURIComponent(at)}`);
      const inside = (name) => (at ? `${at}/${name}` : name);
      const up = at.includes("/") ? at.slice(0, at.lastIndexOf("/")) : "";
      fill(list, at ? button(tr("↑ One folder up"), () => show(up), { className: "plain" }) : null,
        entries.map((e) => button(e.folder ? `${e.name}/` : e.name,
          () => (e.folder ? show(inside(e.name)) : ask("open", { path: inside(e.name) })), { className: "plain" })),
        entries.length ? null : h("p.soft", null, tr("Nothing in it can be drawn.")));
    } catch (error) {
      fill(list, h("p.soft", null, error.message));
    }
  };
  show(folder);
}

function emptyCard() {
  const list = h("div.files");
  const open = fold(tr("From the folder of the desk"), list);
  open.addEventListener("toggle", () => { if (open.open) files("", list); });
  const unfinished = h("div");
  return {
    node: [h("h2", null, tr("Put a drawing on the bed")),
      h("p", null, tr("Drop an SVG, a PDF page, a photograph or a program anywhere on this page, or choose a file.")),
      unfinished,
      button(tr("Choose a file"), () => byId("file").click(), { main: true }), open],
    update() {
      const u = desk.log?.unfinished;
      if (u?.state === "running") {
        fill(unfinished, h("div.note.asks", null, h("b", null, tr("Run {0} is being drawn by another program. ", u.run)),
          tr("{0}: {1} of {2}. It has the port until it ends.", u.program, u.drawn, plural(u.strokes, "{0} stroke", "{0} strokes"))));
        return;
      }
      fill(unfinished, u ? [
        h("div.note.asks", null, h("b", null, tr("Run {0} is not finished. ", u.run)),
          tr("{0}: {1} of {2} drawn, {3}.", u.program, u.drawn, plural(u.strokes, "{0} stroke", "{0} strokes"), runState(u.state)[0]),
          h("div.row", null, button(tr("Look at it"), () => prepare(u.run)))),
      ] : null);
    },
  };
}

async function prepare(run, more) {
  if (await move("resume", { run, back_strokes: 0, from_place: false, ...more })) go("draw");
}

/* A plan ---------------------------------------------------------------------------------------- */

function workingCard() {
  const bar = h("progress", { max: 1, "aria-label": tr("Progress of the plan") }), stage = h("p.soft");
  return {
    node: [h("h2", null, tr("Planning")), stage, bar],
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
    node: [h("h2", null, tr("This cannot be drawn yet")), why, fix,
      button(tr("Choose another file"), () => byId("file").click(), { main: true }),
      button(tr("Try it again"), () => ask("again"), { className: "block" })],
    update() {
      why.textContent = desk.drawing.problem ?? "";
      fill(fix, desk.drawing.is_program
        ? button(tr("Fix the program for this machine"), () => ask("mend"), { className: "block" }) : null);
    },
  };
}

function planCard() {
  const list = h("div"), figures = h("p"), sheets = h("div"), wait = h("p.soft"), error = h("p.expected");
  const main = button(tr("Go to Draw"), () => go("draw"), { main: true });
  const notes = h("ul.plain"), colours = h("ul.plain");
  const folds = [fold(tr("Where the time goes"), h("ul.plain.times")), fold(tr("Colours and pens"), colours), fold(tr("Notes of the reader"), notes)];
  return {
    node: [h("h2", null, tr("Ready to be drawn")), figures, list, error, sheets, wait, main, folds,
      button(tr("Remove it from the bed"), () => ask("clear"), { className: "block plain" })],
    update() {
      const { drawing } = desk, report = drawing.report ?? {};
      const changes = Math.max(0, shares().length - 1);
      figures.textContent = `${format.duration(total())}${changes ? tr(" and {0}", plural(changes, "{0} pen change", "{0} pen changes")) : ""}, ` +
        `${plural(drawing.strokes, "{0} stroke", "{0} strokes")}.`;
      fill(list, shares().slice(0, 8).map((part) => penLine(part.pen,
        `${plural(part.strokes, "{0} stroke", "{0} strokes")}, ${format.duration(part.s)}`)));
      fill(sheets, drawing.sheets > 1 ? h("label.field", null, h("span", null, tr("Sheet")),
        h("select", { onchange: (e) => ask("choose-sheet", { sheet: Number(e.target.value) }) },
          Array.from({ length: drawing.sheets }, (_, i) => h("option", { value: i, selected: i === drawing.sheet }, tr("{0} of {1}", i + 1, drawing.sheets))))) : null);
      fill(error, expected(report.expected_ink_error));
      wait.textContent = drawing.state === "ready" ? "" : tr("The program is being written and checked…");
      main.disabled = drawing.state !== "ready";
      const times = folds[0].querySelector("ul");
      fill(times, [[tr("Ink"), report.ink_s], [tr("Travel"), report.travel_s], [tr("Lifts"), report.lift_s], [tr("Homing"), report.home_s],
        [tr("Pen changes by hand"), report.change_s]].filter(([, s]) => s > 0).map(([name, s]) =>
        h("li.pair", null, h("span", null, name), h("b", null, format.duration(s)))));
      folds[0].hidden = !times.children.length;
      fill(colours, (report.colours ?? []).slice(0, 24).map((c) => h("li.pair", null,
        h("span", null, h("i.dot", { colour: c.colour, "aria-hidden": "true" }), ` ${c.colour}`),
        h("b", null, c.pen ? `${c.pen}${c.coverage < 1 ? ` ${Math.round(c.coverage * 100)} %` : ""}${c.across ? ` + ${c.across}` : ""}` : tr("left to the paper")))));
      folds[1].hidden = !colours.children.length;
      const lines = report.notes ?? (report.findings ?? []).map((f) => tr("line {0}: {1}", f.line, f.text));
      fill(notes, lines.slice(0, 30).map((text) => h("li", null, text)));
      folds[2].hidden = !lines.length;
    },
  };
}

/* How true the drawing will be, by what this machine's sheets have shown. */
function expected(e) {
  if (!e) return null;
  if (!e.measured) return h("span.soft", null, e.why_not ? tr("The accuracy cannot be predicted: {0}", e.why_not) : tr("The accuracy is not known: this machine has not been measured. Measure has test sheets."));
  return [tr("95 % of the ink is expected within "), h("b", null, `${e.p95_mm.toFixed(2)} mm`), tr(" of its line{0}, the worst within {1} mm ", e.not_measured.length ? tr(" at least") : "", e.largest_mm.toFixed(2)),
    h("span.soft", null, tr("(sheet {0}, ", e.sheet), h("span.whole", null, e.date), ")"), e.not_measured.length ? h("span.soft", null, tr(". Not measured: {0}.", e.not_measured.join(", "))) : ".",
    e.not_corrected.length ? h("span.soft", null, tr(" The profile differs from what the sheets show: {0}.", e.not_corrected.join(", "))) : null];
}

/* Before it starts ------------------------------------------------------------------------------- */

function startCard() {
  const checks = h("ul.checks"), body = h("div"), objections = h("div");
  const main = button(tr("Start drawing"), async () => {
    await move("start", { revision: desk.drawing.revision, despite: accepted() });
  }, { main: true });
  let box = null;
  const accepted = () => box?.box.checked ?? false;
  let shown = "";
  return {
    node: [h("h2", null, ""), body, checks, objections, main,
      fold(tr("Cautions"), h("p", null, CAUTION), h("p", null, tr("Where a laser is fitted: eyes protected for its wavelength, an enclosure, fumes led away, something at hand against fire.")))],
    title: true,
    update(node) {
      const concerns = desk.run.concerns, resumes = desk.run.resumes > 0;
      node.querySelector("h2").textContent = resumes ? tr("Resume run {0}", desk.run.resumes) : tr("Before the pen moves");
      const key = JSON.stringify([concerns, desk.machine.port, desk.drawing.paper, desk.drawing.skip]);
      if (key !== shown) {
        shown = key;
        const items = concerns.map(check).filter(Boolean);
        const { skip, strokes } = desk.drawing;
        if (skip > 0) items.unshift(h("li", null, tr("It begins with stroke {0} of {1}; what comes before is not drawn.", whole(skip + 1), whole(strokes)),
          h("div.row", null, button(tr("Begin at the start"), () => ask("begin-at", { skip: 0, revision: desk.drawing.revision })))));
        if (!resumes) items.unshift(h("li", null, tr("The pen is clear of the paper, and the axes are free from end to end.")));
        fill(checks, items);
        const doubts = concerns.filter((c) => c.rank !== "note");
        box = doubts.length ? tick(tr("Draw it anyway"), () => this.update(node)) : null;
        fill(objections, doubts.map((c) => warn(c.text)), box);
        fill(body, concerns.some((c) => c.kind === "first-run")
          ? warn(tr("First run on this machine. ") + CAUTION, "asks") : null,
        desk.machine.port ? null : warn(tr("No port is chosen: choose one in Machine.")));
      }
      main.textContent = resumes ? tr("Go on drawing") : tr("Start drawing");
      main.disabled = !desk.machine.port || (box !== null && !accepted());
    },
  };
}

function check(c) {
  if (c.kind === "sheet") {
    const [x0, y0, x1, y1] = desk.drawing.paper;
    return h("li", null, desk.drawing.left && desk.drawing.right
      ? tr("The sheet lies where its corners were touched.")
      : tr("Paper {0}, {1} × {2} mm, lies with its lower left corner {3} mm to the right of the origin and {4} mm behind it.", desk.drawing.paper_name, +(x1 - x0).toFixed(1), +(y1 - y0).toFixed(1), +x0.toFixed(1), +y0.toFixed(1)));
  }
  if (c.kind === "pen") {
    const pen = desk.machine.pens.find((p) => p.name === c.pen);
    return h("li", null, tr("In the holder:"), pen ? penLine(pen) : ` ${c.pen}`);
  }
  if (c.kind === "homes") return h("li", null, tr("It homes first: both axes run to their switches."));
  if (c.kind === "wire" || c.kind === "unwaited") return h("li", null, `${c.text[0].toUpperCase()}${c.text.slice(1)}.`);
  if (c.kind === "resumes") return h("li", null, tr("It goes on with stroke {0} of {1}.", whole(c.stroke), whole(c.strokes)));
  return null;
}

/* While it draws --------------------------------------------------------------------------------- */

const request = (name) => move("request", { request: name });

function sideSteps(stands = false) {
  return [fold(stands ? tr("Look at the sheet, or end") : tr("Pause, or look at the sheet"), h("div.stack", null,
    stands ? null : button(tr("Pause at the next lift"), () => request("pause-at-lift"), { "data-may": "pause-at-lift" }),
    button(tr("Wait at the next pen change"), () => request("pause-at-change"), { "data-may": "pause-at-change" }),
    button(tr("Park and look at the sheet"), () => request("park"), { "data-may": "park" }),
    button(tr("End the run"), () => request("stop"), { "data-may": "stop", className: "danger" })))];
}

function allow(node) {
  for (const b of node.querySelectorAll("[data-may]")) b.disabled = !may(b.dataset.may);
}

function drawingCard() {
  const now = h("div"), bar = h("progress", { max: 1, "aria-label": tr("Part of the job that is drawn") }), figures = h("p");
  return {
    node: [h("h2", null, trc("state", "Drawing")), now, bar, figures,
      button(tr("Pause at the next lift"), () => request("pause-at-lift"), { main: true, "data-may": "pause-at-lift" }), sideSteps()],
    update(node) {
      const { session } = desk, pen = desk.machine.pens.find((p) => p.name === session.pen_name);
      node.querySelector("h2").textContent = session.state === "homing" ? tr("Homing: keep clear")
        : session.state === "recovering" ? tr("Bringing the board back") : session.state === "ending" ? tr("Ending: the pen is lifted")
          : session.state === "opening" ? tr("Waiting for the board") : tr("Drawing with {0}", session.pen_name || tr("the pen"));
      const part = partOf(session.pen_name);
      fill(now, pen ? penLine(pen, part ? `${plural(part.strokes, "{0} stroke", "{0} strokes")}, ${format.duration(part.s)}` : "") : null);
      bar.value = session.done;
      figures.textContent = tr("{0}: stroke {1} of {2}, {3} of ink.", format.percent(session.done), Math.min(session.stroke + 1, session.strokes), whole(session.strokes), format.length(session.ink_mm));
      allow(node);
    },
  };
}

function penCard() {
  const { session } = desk, name = session.pen_name;
  const pen = desk.machine.pens.find((p) => p.name === name) ?? { name: name || "next", colour: "#808080", tip_mm: "?" };
  const part = partOf(name), before = shares()[shares().findIndex((p) => p.pen.name === name) - 1];
  const first = session.stroke === 0;
  const main = button(tr("Go on"), () => request("go-on"), { main: true, disabled: true, "data-may": "go-on" });
  const box = tick(first ? tr("It is in the holder, its tip clear of the paper")
    : tr("It is in, and its tip sits at the same height as the last one"), () => this_.update());
  const this_ = {
    node: [h("h2", null, name ? tr("Put the {0} pen in", name) : tr("The program waits for the operator")),
      h("p", null, first || !before ? tr("The carriage stands at the change place, the pen up.")
        : tr("{0} is finished: {1}. The carriage stands at the change place.", format.title(before.pen.name), plural(before.strokes, "{0} stroke", "{0} strokes"))),
      name ? penLine(pen, part ? `${plural(part.strokes, "{0} stroke", "{0} strokes")}, ${format.duration(part.s)}` : "") : null,
      box, main, fold(tr("Before it goes on"), h("p", null, CAUTION)), sideSteps()],
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
    node: [h("h2", null, ""), why, button(tr("Go on"), () => request("go-on"), { main: true, "data-may": "go-on" }), sideSteps(true)],
    update(node) {
      const { state } = desk.session;
      node.querySelector("h2").textContent = state === "held" ? tr("Held where it is") : state === "parked" ? tr("Parked") : tr("Paused");
      why.textContent = state === "held" ? tr("The pen is up, in the middle of a line. Going on drops it at the same point.")
        : state === "parked" ? tr("The pen is up at the park place, the sheet can be seen. It returns to the same point, the slack taken up from the same side.")
          : tr("The pen is up between two strokes.");
      allow(node);
    },
  };
}

function lostCard() {
  return {
    node: [h("h2", null, tr("The board is unplugged")),
      h("p", null, tr("Plug it in again. It homes, and goes on with the stroke that is not wholly drawn; what is drawn is in the journal.")),
      h("p.soft", null, tr("It waits ten minutes, then the run ends and can be resumed.")),
      button(tr("End the run"), () => request("stop"), { main: true, "data-may": "stop" })],
    update: allow,
  };
}

/* Afterwards --------------------------------------------------------------------------------------- */

function endedCard() {
  const { run } = desk, good = run.ended === "done";
  const back = h("input", { type: "number", min: 0, max: 100000, value: 0 });
  const id = run.id || run.resumes;
  const anew = button(tr("Draw it again from the start"), () => ask("again"), { main: !good && !id });
  const main = good ? button(tr("Put another drawing on the bed"), () => ask("clear"), { main: true }) : !id ? anew
    : button(tr("Resume"), () => prepare(id, { back_strokes: Math.max(0, Math.round(back.valueAsNumber || 0)) }), { main: true });
  return {
    node: [h("h2", null, good ? tr("Drawn") : run.ended === "stopped" ? tr("Stopped by hand") : tr("The run broke off")),
      h("p.long", null, good ? run.text : run.ended === "stopped" && !run.silent ? tr("The pen is up and the motors are let go.") : format.sentence(run.cause ?? run.text)),
      run.silent ? warn(tr("The board no longer answers: switch it off and lift the pen by hand.")) : null,
      good ? null : h("p", null, tr("What is certain: {0} of {1} are drawn, {2} of ink.", run.stroke, plural(run.strokes, "{0} stroke", "{0} strokes"), format.length(run.ink_mm))),
      good || !id ? null : h("label.field", null, h("span", null, tr("Go back by strokes before that")), back),
      good || !id ? null : h("p.soft", null, tr("Or point at a stroke on the bed and go on from there.")),
      main,
      h("div.stack", null, good || id ? anew : null,
        good ? null : button(tr("Put another drawing on the bed"), () => ask("clear")))],
    update() {},
  };
}

function waitCard() {
  return {
    node: [h("h2", null, tr("Almost ready")), h("p", null, tr("The program is being written and checked…")), h("progress", { "aria-label": tr("Progress of the check") })],
    update() {},
  };
}

/* ---------------------------------------------------------------------------------------------------- */

function portCard() {
  const list = h("div.stack");
  let shown = "";
  return {
    node: [h("h2", null, tr("Choose the controller's port")), h("p", null, tr("Connect the board and switch its supply on; then choose where it is.")), list,
      button(tr("Look again"), () => ask("look-for-ports"), { main: true })],
    update() {
      const key = JSON.stringify(desk.machine.ports);
      if (key === shown) return;
      shown = key;
      fill(list, desk.machine.ports.map((p) => button(p.text ? `${p.path}: ${p.text}` : p.path, () => ask("choose-port", { path: p.path }))),
        desk.machine.ports.length ? null : h("p.soft", null, tr("No serial port is plugged in. 'drawtrue desk --rig' brings a virtual machine to try.")));
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
