/* desk: what the server tells, kept part by part, and what the page asks of it. A WebSocket brings a
 * snapshot first and then what changes; it is opened again whenever it breaks. */
import { tr } from "./words.js";

const listeners = new Map(); // part name: functions
export const desk = {
  machine: null, session: null, drawing: null, run: null, learn: null, log: null, measure: null, online: false,
};

/* Calls `what` now and whenever one of these parts changes. */
export function watch(parts, what) {
  for (const part of parts) {
    if (!listeners.has(part)) listeners.set(part, new Set());
    listeners.get(part).add(what);
  }
}

export function tell(parts) {
  const due = new Set();
  for (const part of parts) for (const what of listeners.get(part) ?? []) due.add(what);
  for (const what of due) what();
}

let wait_ms = 250;
export function connect() {
  const socket = new WebSocket(`ws://${location.host}/events`);
  const lost = setTimeout(() => socket.close(), 10000);
  socket.onmessage = (event) => {
    const message = JSON.parse(event.data);
    clearTimeout(lost);
    wait_ms = 250;
    const { n, ...parts } = message;
    Object.assign(desk, parts);
    const names = Object.keys(parts);
    if (!desk.online) {
      desk.online = true;
      names.push("online");
    }
    tell(names);
    socket.send(String(n));
  };
  socket.onclose = () => {
    clearTimeout(lost);
    if (desk.online) {
      desk.online = false;
      tell(["online"]);
    }
    setTimeout(connect, wait_ms);
    wait_ms = Math.min(wait_ms * 1.6, 4000);
  };
}

async function answer(response) {
  let body = {};
  try {
    body = await response.json();
  } catch { /* it says all by its status */ }
  if (!response.ok) throw new Error(body.error ?? tr("the desk answers {0}", response.status));
  return body;
}

let complain = () => {};
export const onComplaint = (what) => { complain = what; };

/* Asks for an action. TRUE where it is done, which ends earlier complaints; otherwise people are told why not. */
export async function ask(action, values = {}) {
  try {
    await answer(await fetch(`/${action}`, {
      method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(values),
    }));
    complain(null);
    return true;
  } catch (error) {
    complain(error instanceof TypeError ? tr("The desk does not answer; nothing was changed.") : error.message);
    return false;
  }
}

/* The same for what moves the machine: it carries the state that is shown here. */
export const move = (action, values) => ask(action, { serial: desk.session.serial, ...values });

export async function upload(path, file) {
  if (file.size > 64 * 1024 * 1024) {
    complain(tr("{0} has more than 64 MB; the command line takes larger files.", file.name));
    return false;
  }
  try {
    await answer(await fetch(path, {
      method: "POST", headers: { "Content-Type": "application/octet-stream" }, body: file,
    }));
    complain(null);
    return true;
  } catch (error) {
    complain(error instanceof TypeError ? tr("The desk does not answer; nothing was changed.") : error.message);
    return false;
  }
}

export const drop = (file) => upload(`/file?name=${encodeURIComponent(file.name)}`, file);

export const get = async (path) => answer(await fetch(path));

/* Of the session ------------------------------------------------------------------------------ */

const MOVING = new Set(["homing", "jogging", "learning", "drawing", "recovering", "ending"]);
export const isMoving = () => desk.session && MOVING.has(desk.session.state);
export const may = (request) => desk.session?.may.includes(request) ?? false;
export const isActive = () => desk.run?.phase === "active";
export const isReady = () => desk.session?.state === "ready" && !isActive();
export const penOf = (index) => desk.machine?.pens[index] ?? { name: "?", colour: "#808080", tip_mm: 0.4 };
