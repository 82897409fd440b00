/* station-measure: test sheets, the machine by hand, and where the sheet lies. */
import { h, fill, button, tick, freshId } from "./dom.js";
import { desk, move, ask, isReady, isActive } from "./desk.js";
import * as format from "./format.js";
import { arm, onArm } from "./bed.js";
import { reading, refresh, isStale, firstOpen, isIdle, undoButton } from "./reading.js";
import { comparing } from "./compare.js";
import { tr, plural } from "./words.js";

const STEPS = [0.1, 1, 10, 50];

function jogPanel() {
  let step = 1;
  const by = (x, y) => () => move("jog", { kind: "by", x: x * step, y: y * step });
  const arrow = (text, name, x, y, area) => {
    const b = button(text, by(x, y), { className: `arrow ${area}` });
    b.setAttribute("aria-label", tr("Move the pen {0}", name));
    return b;
  };
  const choices = STEPS.map((mm) => h("label.choice", null,
    h("input", { type: "radio", name: "jog-step", value: mm, checked: mm === step, onchange: () => {
      step = mm;
      if (keys.box.checked) arm(true, step);
    } }), h("span", null, `${mm}`)));
  const keys = tick(tr("The arrow keys move the pen too"), (on) => arm(on, step));
  onArm((on) => { keys.box.checked = on; });
  const home = button(tr("Home the machine"), () => move("jog", { kind: "home" }), { className: "block" });
  const pad = h("div.pad", null, arrow("↑", tr("away from you"), 0, 1, "up"), arrow("←", tr("to the left"), -1, 0, "left"),
    arrow("→", tr("to the right"), 1, 0, "right"), arrow("↓", tr("towards you"), 0, -1, "down"));
  const pen = button(tr("Lower the pen"), () => move("jog", { kind: desk.session.pen_down ? "pen-up" : "pen-down" }));
  const park = button(tr("Park"), () => move("jog", { kind: "park" }));
  const end = button(tr("Let go of the port"), () => move("jog", { kind: "end" }));
  const where = h("p.where");
  const caution = h("p.soft", null, tr("Homing runs both axes to their switches. Keep hands, hair and cords clear, and have the supply's switch in reach."));
  return {
    node: h("section.panel", null, h("h2", null, tr("Move by hand")), caution, home, where,
      h("fieldset.steps", null, h("legend", null, tr("Step, mm")), h("div.choices", null, choices)), pad, keys,
      h("div.row", null, pen, park, end)),
    update() {
      const ready = isReady(), s = desk.session;
      where.textContent = s?.placed ? tr("The tip is at {0}, pen {1}.", format.place(s.tip), s.pen_down ? tr("down") : tr("up")) : tr("Where the pen is, is not known: home first.");
      home.disabled = !desk.machine?.port || isActive() || !(ready || s?.state === "closed");
      for (const b of [...pad.children, pen, park]) b.disabled = !ready || !s.homed;
      pen.textContent = s?.pen_down ? tr("Lift the pen") : tr("Lower the pen");
      end.disabled = !ready;
      if (!ready && keys.box.checked && s?.state === "closed") {
        keys.box.checked = false;
        arm(false);
      }
    },
  };
}

function cornerPanel() {
  const steps = h("ol.steps-list"), note = h("p.soft", null, tr("Where the sheet was taped down by eye, two touched corners tell where it really lies; the drawing is laid on it, moved and turned."));
  const touch = (which) => button(which === "left" ? tr("Take this as the lower left corner") : tr("Take this as the lower right corner"), () => move("touch-corner", { which }));
  const left = touch("left"), right = touch("right"), forget = button(tr("Forget the corners"), () => ask("forget-corners"));
  const leftText = h("span"), rightText = h("span");
  fill(steps, h("li", null, leftText, left), h("li", null, rightText, right));
  return {
    node: h("section.panel", null, h("h2", null, tr("Touch two corners of the sheet")), note, steps, forget),
    update() {
      const { drawing } = desk, ready = isReady() && desk.session.placed;
      leftText.textContent = drawing?.left ? tr("Lower left: {0} ", format.place(drawing.left)) : tr("Move the tip over the lower left corner. ");
      rightText.textContent = drawing?.right ? tr("Lower right: {0} ", format.place(drawing.right)) : tr("Then over the lower right corner. ");
      left.disabled = right.disabled = !ready;
      forget.hidden = !drawing?.left && !drawing?.right;
    },
  };
}

const SHEETS = [["all", tr("for reading by eye")], ["scan", tr("for a scanner")], ["slack", tr("lost motion")], ["scale", tr("scale")], ["square", tr("squareness")],
  ["settle", tr("lift and drop times")], ["speed", tr("speeds")], ["pens", tr("pens")]];

/* The last sheet: how far it is read, and what can be done with it. */
function lastSheet() {
  const s = reading.data?.sheet;
  if (!s) return h("p.soft", null, tr("No sheet of this machine yet."));
  const open = () => {
    reading.open = !reading.open;
    comparing.open = false;
    reading.at = firstOpen();
    window.deskPage.show("measure");
  };
  const text = reading.open ? tr("Close the sheet") : s.scan ? tr("Read sheet {0} by scans", s.number) : tr("Read sheet {0} by eye", s.number);
  const read = button(text, open, { main: !reading.open && s.drawn, className: reading.open || !s.drawn ? "block" : "go", disabled: Boolean(s.problem) || (!s.scan && !s.asks.length) });
  const how = [s.drawn ? tr("drawn") : tr("not drawn from here yet"), s.scan ? plural(s.scans.length, "{0} scan", "{0} scans") : null,
    s.asks.length ? s.scan ? plural(s.asks.length, "{1} of {0} length measured", "{1} of {0} lengths measured", s.read) : plural(s.asks.length, "{1} of {0} question answered", "{1} of {0} questions answered", s.read) : null].filter(Boolean).join(", ");
  return [h("p", null, h("b", null, tr("Sheet {0}", s.number)), tr(" of {0}: {1}.", s.date, how)),
    s.problem ? h("div.note", null, format.sentence(s.problem)) : null, read];
}

function compareButton() {
  return button(comparing.open ? tr("Close the comparison") : tr("Compare two sheets"), () => {
    comparing.open = !comparing.open;
    reading.open = false;
    window.deskPage.show("measure");
  }, { className: "block" });
}

function sheetPanel() {
  const kind = h("select", null, SHEETS.map(([value, text]) => h("option", { value }, text)));
  const make = button(tr("Put it on the bed"), () => ask("make-test-sheet", { kind: kind.value }), { className: "block" });
  const last = h("div.last-sheet"), undo = h("div.stack");
  let shown = "";
  return {
    node: h("section.panel", null, h("h2", null, tr("Measure by a test sheet")), h("label.field", null, h("span", null, tr("Sheet")), kind), make,
      h("p.soft", null, tr("Draw it in Draw. Then read it here: by eye, or by scans of it.")), last, undo),
    update() {
      make.disabled = isActive();
      const now = JSON.stringify([reading.data, reading.open, comparing.open, isIdle()]);
      if (now === shown) return;
      shown = now;
      fill(last, lastSheet());
      fill(undo, compareButton(), reading.open ? null : undoButton());
    },
  };
}

const PARTS = [["sheets", tr("Test sheets"), sheetPanel], ["hand", tr("By hand"), jogPanel], ["corners", tr("Corners"), cornerPanel]];
let part = "sheets";

export function measureSide() {
  const body = h("div"), name = freshId("part");
  let panels = [];
  const open = () => {
    const reads = reading.open || comparing.open;
    panels = PARTS.filter(([value]) => value === (reads ? "sheets" : part)).map(([, , make]) => make());
    fill(body, panels.map((p) => p.node));
  };
  const radios = PARTS.map(([value, text]) => h("label.choice", null, h("input", { type: "radio", name, value, checked: part === value, onchange: () => {
    part = value;
    arm(false);
    open();
    panels.forEach((p) => p.update());
  } }), h("span", null, text)));
  open();
  return {
    node: [reading.open || comparing.open ? null : h("fieldset.parts", null, h("legend.hidden", null, tr("What to do")), h("div.choices", null, radios)), body],
    update(all) {
      if (isStale()) refresh(all).catch(() => {});
      panels.forEach((p) => p.update());
    },
  };
}
