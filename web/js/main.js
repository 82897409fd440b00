/* main: stations, Stop, keys, and what is said aloud. */
import { byId, h, fill, button, whenFree } from "./dom.js";
import { desk, watch, connect, ask, may, drop, isMoving, isActive, onComplaint } from "./desk.js";
import { stateOf } from "./states.js";
import { startBed, setLook, onStroke, onPaint, onDropped, arm, select } from "./bed.js";
import { startStrip, paintStrip } from "./strip.js";
import { scrub, setStation } from "./time.js";
import { showCard, onGo } from "./card.js";
import { strokePanel } from "./stroke.js";
import { drawingSide } from "./station-drawing.js";
import { measureSide } from "./station-measure.js";
import { reading, readingPage } from "./reading.js";
import { comparing, comparePage } from "./compare.js";
import { giveScan } from "./scans.js";
import { machinePage, machineSide } from "./station-machine.js";
import { logPage, logSide } from "./station-log.js";
import { tr, language, choose, LANGUAGES, translatePage } from "./words.js";

const STATIONS = ["drawing", "draw", "measure", "machine", "log"];
let station = STATIONS.includes(location.hash.slice(1)) ? location.hash.slice(1) : "drawing";

/* Stations ------------------------------------------------------------------------------------- */

let side = null, wide = null;
function show(name, focus = false) {
  station = name;
  document.body.dataset.station = name;
  history.replaceState(null, "", `#${name}`);
  for (const other of STATIONS) {
    const tab = byId(`tab-${other}`);
    tab.setAttribute("aria-selected", String(other === name));
    tab.tabIndex = other === name ? 0 : -1;
    if (focus && other === name) tab.focus();
  }
  byId("panel").setAttribute("aria-labelledby", `tab-${name}`);
  arm(false);
  const compares = name === "measure" && comparing.open, reads = name === "measure" && reading.open && !compares;
  const isWide = name === "machine" || name === "log" || reads || compares;
  document.body.classList.toggle("is-wide", isWide);
  document.body.classList.toggle("is-reading", reads || compares);
  byId("bed").hidden = isWide;
  byId("wide").hidden = !isWide;
  side = { drawing: drawingSide, draw: () => strokePanel("draw"), measure: measureSide, machine: machineSide, log: logSide }[name]();
  fill(byId("side"), side.node ?? []);
  wide = name === "machine" ? machinePage() : name === "log" ? logPage() : reads ? readingPage(closeReading) : compares ? comparePage(closeReading) : null;
  fill(byId("wide"), wide?.node ?? []);
  setStation(name);
  setLook({ station: name });
  update();
  if (desk.machine && desk.drawing) updateParts(); // at once: it is what the press was for
  paintStrip();
}

function closeReading() {
  reading.open = comparing.open = false;
  show("measure");
}

/* A picture that is let go while a sheet for a scanner is read is a scan of it. */
const scanned = () => station === "measure" && reading.open && reading.data?.sheet?.scan ? reading.data.sheet : null;
const take = (file) => (scanned() ? giveScan(file, scanned()) : drop(file));
const dropText = () => (scanned() ? tr("Let go to read it as a scan of sheet {0}", scanned().number) : tr("Let go to put it on the bed"));

function tabs() {
  for (const name of STATIONS) byId(`tab-${name}`).addEventListener("click", () => show(name));
  byId("stations").addEventListener("keydown", (e) => {
    const at = STATIONS.indexOf(station);
    const to = { ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: STATIONS.length - 1 }[e.key];
    if (to === undefined) return;
    e.preventDefault();
    show(STATIONS[(to + STATIONS.length) % STATIONS.length], true);
  });
}

/* What is shown whatever the station ------------------------------------------------------------ */

let said = "";
function update() {
  const state = stateOf(desk);
  byId("state-word").textContent = state.word;
  byId("state").dataset.tone = state.tone;
  byId("state").querySelector("path").setAttribute("d", state.path);
  byId("offline").hidden = desk.online || said === "";
  document.body.classList.toggle("offline", !desk.online);
  freeze(!desk.online && said !== "");
  if (said !== state.word && desk.session) {
    said = state.word;
    byId("say").textContent = state.word;
  }
  if (!desk.machine || !desk.drawing) return;
  byId("drawing-name").textContent = desk.drawing.name ?? tr("No drawing");
  byId("machine-name").textContent = tr("on {0}{1}", desk.machine.name, desk.machine.rig ? tr(", virtual") : "");
  document.title = `${isActive() ? `${state.word}: ` : ""}${desk.drawing.name ?? "drawtrue desk"}`;
  stopButton();
  whenFree(updateParts);
}

/* While the desk does not answer, card and side show what is no longer known: nothing there can be pressed. What
 * had the focus gets it back. */
let frozen = null;
function freeze(now) {
  if (now === (frozen !== null)) return;
  const nodes = [byId("card"), byId("side")], focus = document.activeElement;
  if (now) frozen = { focus: nodes.some((n) => n.contains(focus)) ? focus : null };
  for (const node of nodes) node.inert = now;
  if (now) return;
  if (frozen.focus?.isConnected) frozen.focus.focus();
  frozen = null;
}

function updateParts() {
  showCard(station);
  side?.update?.(update);
  wide?.update?.();
}

/* Stop ------------------------------------------------------------------------------------------ */

const spaceStops = () => localStorage.getItem("space-stops") !== "no";

function stopButton() {
  const node = byId("stop"), moving = isMoving();
  byId("stop-key").textContent = spaceStops() ? tr("space") : "";
  node.classList.toggle("idle", !moving || !desk.online);
  node.title = !desk.online ? tr("The desk does not answer. If the machine must stop, cut its supply.") : may("pause-now") ? tr("Lift the pen and hold") : moving ? tr("Stop what moves") : tr("Nothing moves now");
}

/* Lift and hold; what cannot be held is ended. What makes the machine stand is never stale. While
 * nothing moves it does nothing: who presses twice to be sure must not lose the run. */
let stop_ms = -Infinity;
function stop() {
  stop_ms = performance.now();
  if (!desk.online) toast(tr("The desk does not answer. If the machine must stop, cut its supply."));
  else if (isMoving() && may("pause-now")) ask("request", { request: "pause-now", serial: 0 });
  else if (isMoving() && may("stop")) ask("request", { request: "stop", serial: 0 });
  else toast(may("stop") ? tr("Nothing moves now. Escape twice ends the run.") : tr("Nothing moves now."));
}

let escape_ms = -Infinity;
function keys(event) {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const types = event.target.closest?.("input:not([type=checkbox]):not([type=radio]):not([type=range]), textarea, select");
  if (event.key === " " && isMoving() && !types && spaceStops()) {
    event.preventDefault();
    event.stopPropagation();
    if (!event.repeat) stop();
  } else if (event.key === " " && (event.repeat || performance.now() - stop_ms < 1500) && !types) {
    event.preventDefault(); // struck twice to be sure: it must not press "Go on"
    event.stopPropagation();
  } else if (event.key === "Escape") {
    if (event.timeStamp - escape_ms < 1500 && may("stop")) {
      ask("request", { request: "stop", serial: 0 });
      escape_ms = -Infinity;
    } else {
      escape_ms = event.timeStamp;
      if (may("stop")) toast(tr("Escape once more ends it."), 1500);
    }
    arm(false);
    select(null);
    scrub(null);
  }
}

/* Said to people ---------------------------------------------------------------------------------- */

/* A complaint stays until it is dismissed or a later action succeeds: who presses looks at the machine. */
function complain(text) {
  if (text === null) for (const old of document.querySelectorAll(".toast.complaint")) old.remove();
  else toast(text, Infinity, "div.toast.complaint");
}

function toast(text, ms = 9000, kind = "div.toast") {
  const node = h(kind, null, h("span", null, text), button("×", () => node.remove(), { "aria-label": tr("Dismiss") }));
  byId("toasts").append(node);
  while (byId("toasts").children.length > 3) byId("toasts").firstChild.remove();
  if (ms < Infinity) setTimeout(() => node.remove(), ms);
}

/* The page's language: a choice at the end of the log's side, where it is in nobody's way. */
function languageChoice() {
  const select = h("select", { onchange: () => choose(select.value) },
    Object.entries(LANGUAGES).map(([value, name]) => h("option", { value, lang: value, selected: value === language }, name)));
  return h("label.language", null, h("span", null, tr("Language")), select);
}

function start() {
  translatePage();
  document.querySelector("aside").append(languageChoice());
  onComplaint(complain);
  onGo(show);
  startBed();
  startStrip();
  tabs();
  byId("stop").addEventListener("click", stop);
  addEventListener("keydown", keys, true);
  addEventListener("keyup", (e) => { if (e.key === " " && (isMoving() || performance.now() - stop_ms < 1500) && e.target.tagName === "BUTTON" && spaceStops()) e.preventDefault(); }, true);
  byId("file").addEventListener("change", (e) => {
    if (e.target.files[0]) drop(e.target.files[0]);
    e.target.value = "";
  });
  onDropped(take, dropText);
  onStroke((stroke) => side?.stroke?.(stroke));
  watch(["online", "machine", "session", "drawing", "run", "learn", "log", "measure"], update);
  show(station);
  connect();
  window.deskPage = { show, desk, scrub, painted: null, onPainted: null }; // for those who test and measure
  onPaint((data) => {
    window.deskPage.painted = data;
    window.deskPage.onPainted?.(data);
  });
}

start();
