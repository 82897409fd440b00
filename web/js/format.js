/* format: numbers for people. */

export function duration(s) {
  if (!Number.isFinite(s)) return "";
  if (s < 9.95) return `${s.toFixed(1)} s`;
  s = Math.round(s);
  if (s < 60) return `${s} s`;
  const hours = Math.floor(s / 3600), minutes = Math.floor(s / 60) % 60;
  const two = (n) => String(n).padStart(2, "0");
  return hours ? `${hours} h ${two(minutes)} min` : `${minutes} min ${two(s % 60)} s`;
}

export const length = (mm) => (mm < 1000 ? `${mm.toFixed(1)} mm` : `${(mm / 1000).toFixed(2)} m`);
export const place = (p, digits = 1) => `${p[0].toFixed(digits)}, ${p[1].toFixed(digits)} mm`;
export const percent = (x) => `${Math.floor(x * 100 + 1e-9)} %`;
export const clock = (date) =>
  `${String(date.getHours()).padStart(2, "0")}:${String(date.getMinutes()).padStart(2, "0")}`;

export function day(seconds) {
  const d = new Date(seconds * 1000);
  const two = (n) => String(n).padStart(2, "0");
  return `${d.getFullYear()}-${two(d.getMonth() + 1)}-${two(d.getDate())} ${clock(d)}`;
}

export const sentence = (text) => (text ? text[0].toUpperCase() + text.slice(1) + (/[.!?]$/.test(text) ? "" : ".") : "");

/* "single_line" as a form has it. */
export function title(name) {
  const text = name.replaceAll("_", " ");
  return text[0].toUpperCase() + text.slice(1);
}
