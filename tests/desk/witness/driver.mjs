/* driver: Chromium by playwright-core for bench-desk. A line of JSON in is one call, {id, op, ...}; a line out
 * its answer, {id, value} or {id, error}, or an event, {method, params}. Usage: node driver.mjs MODULES
 * CHROMIUM HOME */
import { createRequire } from "node:module";
import { createInterface } from "node:readline";

const [modules, executablePath, home] = process.argv.slice(2);
const { chromium } = createRequire(`${modules}/`)("playwright-core");

const context = await chromium.launchPersistentContext(home, {
  executablePath, headless: true, args: ["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--hide-scrollbars"], viewport: { width: 1440, height: 900 },
});
const page = context.pages()[0] ?? await context.newPage();
const protocol = await context.newCDPSession(page);
const say = (message) => process.stdout.write(`${JSON.stringify(message)}\n`);

page.on("pageerror", (error) => say({ method: "complaint", params: error.stack ?? String(error) }));
page.on("console", (m) => { if (m.type() === "error") say({ method: "complaint", params: `${m.text()} ${m.location().url}` }); });
await protocol.send("Network.enable");
for (const name of ["Network.loadingFinished", "Network.requestWillBeSent"]) protocol.on(name, (params) => say({ method: name, params }));

const CALLS = {
  goto: ({ url }) => page.goto(url).then(() => null),
  run: ({ script }) => page.evaluate(script),
  send: ({ method, params }) => protocol.send(method, params),
  size: ({ width, height }) => page.setViewportSize({ width, height }),
  media: ({ dark, reduced }) => page.emulateMedia({ colorScheme: dark ? "dark" : "light", reducedMotion: reduced ? "reduce" : "no-preference" }),
  click: ({ x, y }) => page.mouse.click(x, y),
  key: ({ key }) => page.keyboard.press(key === " " ? "Space" : key),
  type: ({ text }) => page.keyboard.insertText(text),
  choose: ({ selector, path }) => page.setInputFiles(selector, path),
  picture: ({ path }) => page.screenshot({ path }).then(() => null),
  close: () => context.close(),
};

say({ method: "ready", params: null });
for await (const line of createInterface({ input: process.stdin })) {
  const { id, op, ...rest } = JSON.parse(line);
  try {
    say({ id, value: (await CALLS[op](rest)) ?? null });
  } catch (error) {
    say({ id, error: String(error.message ?? error) });
  }
  if (op === "close") process.exit(0);
}
