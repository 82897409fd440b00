/* stroke: what is known of the stroke that was pointed at, and what can be done from it. */
import { h, fill, button, fold } from "./dom.js";
import { desk, ask, move, isActive, penOf } from "./desk.js";
import * as format from "./format.js";
import { scrub } from "./time.js";
import { stepStroke } from "./bed.js";
import { tr, whole } from "./words.js";

export function strokePanel(station) {
  const body = h("div"), happened = h("ul.plain.happened"), log = fold(tr("What has happened"), happened);
  let shown = null;
  const draw = () => {
    if (!shown) {
      fill(body, h("p.soft.hint", null, tr("Point at a stroke on the bed to see its pen, its length and its time.")));
      return;
    }
    const pen = penOf(shown.pen), run = desk.run.id || desk.run.resumes;
    const canGoOn = run > 0 && !isActive() && desk.run.phase !== "none" && desk.run.ended !== "done";
    const canBegin = station === "draw" && desk.run.phase === "ready" && !desk.run.resumes;
    fill(body, h("div.stroke", null,
      h("h3", null, tr("Stroke {0} of {1}", shown.stroke + 1, whole(shown.n))),
      h("div.pen", null, h("span.swatch", { colour: pen.colour, "aria-hidden": "true" }),
        h("div", null, h("b", null, `${pen.name}, ${pen.tip_mm} mm`),
          h("div", null, tr("{0}, begins after {1}, takes {2}", format.length(shown.length), format.duration(shown.begin), format.duration(shown.end - shown.begin))))),
      h("div.row", null, button(tr("Previous"), () => stepStroke(-1)), button(tr("Next"), () => stepStroke(1)),
        button(tr("Show that moment"), () => scrub(shown.begin))),
      canBegin ? button(tr("Begin here"), () => ask("begin-at", { skip: shown.stroke, revision: desk.drawing.revision }), { className: "block" }) : null,
      canGoOn ? button(tr("Go on from here"), () => move("resume", {
        run, back_strokes: 0, from_place: true, x: shown.place[0], y: shown.place[1],
      }), { className: "block" }) : null));
  };
  draw();
  return {
    node: [body, log],
    stroke(s) {
      shown = s;
      draw();
    },
    update() {
      const list = desk.run?.happened ?? [];
      log.hidden = !list.length;
      if (happened.children.length !== list.length || happened.dataset.last !== list.at(-1)?.text) {
        happened.dataset.last = list.at(-1)?.text ?? "";
        fill(happened, list.map((e) => h("li", null, h("span.soft", null, format.day(e.at).slice(11)), ` ${e.text}`)));
      }
    },
  };
}
