/* words: the page's texts in its language. The sources have English, the catalogues what po/ makes of it; a
 * text that a catalogue lacks stays English. The choice is a cookie, so that the server answers in the
 * same language; without it the browser's languages count. */
import catalogues from "./catalogue.js";

export const LANGUAGES = { en: "English", de: "Deutsch" };

const chosen = () => /(?:^|;\s*)language=([a-z]+)/.exec(document.cookie)?.[1];
const wanted = () => [chosen(), ...navigator.languages.map((tag) => tag.split("-")[0])];
export const language = wanted().find((name) => name in LANGUAGES) ?? "en";
const catalogue = catalogues[language] ?? { texts: {} };

/* Another language, from the next page on. */
export function choose(name) {
  document.cookie = `language=${name}; path=/; max-age=31536000; samesite=strict`;
  location.reload();
}

const insert = (text, values) => text.replace(/\{(\d)\}/g, (all, i) => values[i] ?? all);

/* tr("Sheet {0} of {1}", number, date) */
export const tr = (text, ...values) => insert(catalogue.texts[text] ?? text, values);

/* The same for a text that means something else in another place. */
export const trc = (context, text) => catalogue.texts[`${context}\u0004${text}`] ?? text;

/* plural(3, "{0} stroke", "{0} strokes"): the form that a count has. */
export function plural(n, one, many, ...values) {
  const forms = catalogue.texts[one];
  const form = Array.isArray(forms) ? forms[catalogue.form(n)] : n === 1 ? one : many;
  return insert(form, [whole(n), ...values]);
}

/* Groups of three digits: by a comma in English, elsewhere by the narrow space of ISO 80000-1, since the
 * decimal sign is a point in every language. */
export const whole = (n) => n.toLocaleString("en").replaceAll(",", language === "en" ? "," : "\u202f");

/* What index.html has, and says of itself to a reader of the screen. */
export function translatePage() {
  document.documentElement.lang = language;
  if (language === "en") return;
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = texts.nextNode(); node; node = texts.nextNode()) {
    const text = node.data.trim().replace(/\s+/g, " ");
    if (text) node.data = node.data.replace(node.data.trim(), tr(text));
  }
  for (const name of ["aria-label", "aria-roledescription", "title"])
    for (const node of document.querySelectorAll(`[${name}]`)) node.setAttribute(name, tr(node.getAttribute(name)));
}
