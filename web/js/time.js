/* time: where in the job the page looks: at the machine, or where the strip was put by hand. */
import { desk, watch, isActive } from "./desk.js";

export const job = { t: 0, live: 0, scrubbed: false, summary: null };
const listeners = new Set();

export const onTime = (what) => listeners.add(what);
export const total = () => desk.drawing?.total_s ?? 0;

/* How far the machine is, s of the job. */
function liveTime() {
  const { session, run } = desk;
  if (run?.phase === "ready" && run.from_s > 0) return run.from_s - 1e-3;
  if (run?.phase === "active" || run?.phase === "ended") {
    if (run.phase === "ended" && run.ended === "done") return total() + 1;
    return (run.phase === "active" ? session.done : run.done) * total();
  }
  return 0;
}

/* By hand; without a number the page follows the machine again. */
export function scrub(t) {
  job.scrubbed = t !== null;
  setTime(t);
}

let station = "drawing";
export function setStation(name) {
  station = name;
  setTime();
}

export function setTime(t = null) {
  job.live = liveTime();
  if (t !== null) job.t = Math.max(0, Math.min(total(), t));
  else if (!job.scrubbed) job.t = station === "drawing" && !isActive() ? total() + 1 : job.live;
  for (const what of listeners) what();
}

watch(["session", "run", "drawing"], () => {
  if (desk.drawing && job.revision !== desk.drawing.revision) {
    job.revision = desk.drawing.revision;
    job.scrubbed = false;
  }
  setTime();
});
