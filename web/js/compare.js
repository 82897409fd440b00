/* compare: before and after. Two sheets side by side: the picture, each figure with its verdict, and what
 * is likely to need repair. */
import { h, fill, svg, button, whenFree } from "./dom.js";
import { desk, get } from "./desk.js";
import * as format from "./format.js";
import { SHAPES } from "./states.js";
import { causeList } from "./scans.js";
import { tr, plural } from "./words.js";

export const comparing = { open: false, first: 0, second: 0 };

const VERDICTS = {
  better: [tr("better"), "good", "tick"], worse: [tr("worse"), "bad", "cross"],
  same: [tr("no detectable difference"), "still", "ring"], unknown: [tr("not known for one of them"), "still", "gap"],
};

function verdictMark(word) {
  const [text, tone, shape] = VERDICTS[word];
  return h("span.state.small", { "data-tone": tone },
    svg("svg", { viewBox: "-8 -8 16 16", width: 13, height: 13, "aria-hidden": "true" }, svg("path", { d: SHAPES[shape] })), text);
}

const textOf = (v) => v.value === null ? tr("not known") : `${v.value}${v.interval === null ? "" : ` ± ${v.interval}`}${v.unit ? ` ${v.unit}` : ""}`;

function table(figures, a, z) {
  const rank = { worse: 0, better: 1, same: 2, unknown: 3 };
  const rows = [...figures].sort((p, q) => rank[p.verdict] - rank[q.verdict]);
  return h("div.scroll", { tabIndex: 0, role: "region", "aria-label": tr("Figures of both sheets") }, h("table.figures", null,
    h("thead", null, h("tr", null, [tr("What"), tr("Where"), tr("Sheet {0}", a), tr("Sheet {0}", z)].map((t) => h("th", { scope: "col" }, t)), h("th.verdict", { scope: "col" }, tr("Verdict")))),
    h("tbody", null, rows.map((f) => h("tr", null, h("th", { scope: "row" }, format.sentence(f.title).slice(0, -1)), h("td", null, f.axis ?? f.pen ?? ""),
      h("td.number", null, textOf(f.before)), h("td.number", null, textOf(f.after)), h("td", null, verdictMark(f.verdict)))))));
}

function summary(figures) {
  const n = (v) => figures.filter((f) => f.verdict === v).length;
  const parts = [n("better") ? tr("{0} better", n("better")) : null, n("worse") ? tr("{0} worse", n("worse")) : null, n("same") ? tr("{0} with no detectable difference", n("same")) : null].filter(Boolean);
  return parts.length ? `${parts.join(", ")}.` : tr("The two sheets have no figure in common.");
}

export function comparePage(close) {
  const head = h("div.reading-head", null, h("div", null, h("h2", null, tr("Before and after")), h("p.soft", null, tr("Two sheets of this machine that were read. A verdict stands where they differ by more than chance explains in 5 of 100 cases."))), button(tr("Close"), close));
  const choose = h("div.choosers"), body = h("div");
  let shown = "", wanted = 0;
  const load = async () => {
    const mine = ++wanted, { sheets } = await get("/sheets"), read = sheets.filter((s) => s.read);
    if (mine !== wanted) return;
    if (read.length < 2) {
      fill(choose);
      fill(body, h("p.empty", null, [plural(read.length, "{0} sheet of this machine is read.", "{0} sheets of this machine are read."), " ", tr("Draw and read one, repair or correct the machine, then draw and read another.")]));
      return;
    }
    if (!read.some((s) => s.number === comparing.first)) comparing.first = read.at(-2).number;
    if (!read.some((s) => s.number === comparing.second)) comparing.second = read.at(-1).number;
    const select = (name, label) => {
      const node = h("select", { onchange: () => {
        comparing[name] = Number(node.value);
        load().catch(fail);
      } }, read.map((s) => h("option", { value: s.number, selected: s.number === comparing[name] }, tr("Sheet {0} of {1}{2}", s.number, s.date, s.scan ? tr(", scanned") : tr(", by eye")))));
      return h("label.field", null, h("span", null, label), node);
    };
    const c = await get(`/compare?first=${comparing.first}&second=${comparing.second}`);
    if (mine !== wanted) return;
    whenFree(() => {
      fill(choose, select("first", tr("Before")), select("second", tr("After")));
      const picture = h("img.compare", { onerror: () => frame.remove(), src: `/compare.png?first=${comparing.first}&second=${comparing.second}&at=${desk.measure?.number ?? 0}`,
        alt: tr("Reversal value and mean deviation along both axes, sheet {0} in blue and sheet {1} in red; the table below has the figures", comparing.first, comparing.second) });
      const frame = h("div.scroll", { tabIndex: 0, role: "region", "aria-label": tr("Picture of both sheets") }, picture); // not of pens or limits
      fill(body, h("p.lead", null, summary(c.figures)), frame, table(c.figures, comparing.first, comparing.second),
        h("h3", null, tr("What is likely to need repair, by sheet {0}", comparing.second)), causeList(c.second.causes));
    });
  };
  const fail = (error) => fill(body, h("p.soft", null, error.message));
  return {
    node: [head, choose, body],
    update() {
      const now = JSON.stringify([desk.measure?.number, desk.machine?.name]);
      if (now === shown) return;
      shown = now;
      load().catch(fail);
    },
  };
}
