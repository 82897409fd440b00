/* states: each has a word, a colour (a tone of desk.css) and a shape. */
import { tr, trc } from "./words.js";

export const SHAPES = {
  ring: "M0-6A6 6 0 1 0 0 6A6 6 0 1 0 0-6ZM0-3.2A3.2 3.2 0 1 1 0 3.2A3.2 3.2 0 1 1 0-3.2Z",
  disc: "M0-6A6 6 0 1 0 0 6A6 6 0 1 0 0-6Z",
  arrow: "M-5-6.5L6.5 0L-5 6.5Z",
  diamond: "M0-7.5L7.5 0L0 7.5L-7.5 0Z",
  bars: "M-5.5-6H-1.5V6H-5.5ZM1.5-6H5.5V6H1.5Z",
  square: "M-6-6H6V6H-6Z",
  cross: "M-6.5-4L-4-6.5L0-2.5L4-6.5L6.5-4L2.5 0L6.5 4L4 6.5L0 2.5L-4 6.5L-6.5 4L-2.5 0Z",
  tick: "M-7 0L-4.6-2.4L-2 0.2L4.6-6.4L7-4L-2 5.4Z",
  gap: "M-7-2.5H-2V2.5H-7ZM2-2.5H7V2.5H2Z",
  loop: "M0-6.5A6.5 6.5 0 1 1-6.5 0H-3.6A3.6 3.6 0 1 0 0-3.6V-1L-4.5-5L0-9Z",
};

const STATES = {
  closed: [tr("Port closed"), "still", "ring"],
  opening: [tr("Waiting for the board"), "busy", "loop"],
  ready: [tr("Ready"), "good", "disc"],
  homing: [tr("Homing: keep clear"), "busy", "arrow"],
  jogging: [tr("Moving: keep clear"), "busy", "arrow"],
  learning: [tr("Learning the controller's words"), "busy", "loop"],
  drawing: [trc("state", "Drawing"), "busy", "arrow"],
  "pen-change": [tr("Waiting for a pen"), "asks", "diamond"],
  paused: [tr("Paused, pen up"), "asks", "bars"],
  held: [tr("Held, pen up"), "asks", "bars"],
  parked: [tr("Parked, pen up"), "asks", "square"],
  unplugged: [tr("Board unplugged"), "bad", "gap"],
  recovering: [tr("Bringing the board back"), "busy", "loop"],
  ending: [tr("Ending: pen up"), "busy", "arrow"],
  done: [tr("Done"), "good", "tick"],
  stopped: [tr("Stopped"), "asks", "square"],
  failed: [tr("Broken off"), "bad", "cross"],
  offline: [tr("No connection to the desk"), "bad", "gap"],
};

/* How a run of the journal stands: its word, tone and shape. */
const RUNS = {
  running: [tr("draws now"), "busy", "arrow"], done: [tr("done"), "good", "tick"], stopped: [tr("stopped"), "asks", "square"],
  "broken off": [tr("broken off"), "bad", "cross"], "cut off": [tr("cut off"), "bad", "gap"],
};
export const runState = (name) => RUNS[name] ?? [name, "still", "ring"];

/* { word, tone, shape } of what the desk is in now. */
export function stateOf(desk) {
  let name = "offline";
  if (desk.online && desk.session) {
    name = desk.session.state;
    if (desk.run?.phase === "ended" && name === "closed") name = desk.run.ended;
  }
  const [word, tone, shape] = STATES[name] ?? [name, "still", "ring"];
  return { name, word, tone, path: SHAPES[shape] };
}
