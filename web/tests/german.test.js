// German fits the same screens: the stages of the drafted practice building on a phone, and the help for real smoke.
import assert from "node:assert/strict";
import test from "node:test";
import { assertAccessible, assertFits, open, serve, shot, views } from "./harness.js";

test("every stage speaks German and fits a phone", async (t) => {
  const server = await serve(t);
  const page = await open(t, server.url, { view: views.phone, locale: "de-DE" });
  const { jobs } = await (await fetch(`${server.url}/api/jobs`)).json();
  const { job } = jobs.find(({ name }) => name.includes("draft")) ?? jobs[0];
  for (const [path, said] of Object.entries({
    survey: "hier schläft jemand",
    schedule: "Die Lauschbrücke in",
    "schedule/zone/09": "Brandsignal der Netz-Warnmelder",
    key: "Die Lauschbrücke in",
    prove: /48 (steps|Schritte)/,
    hand: "nichts ausgegeben",
    look: "Warnmelder am Ende",
  })) {
    await page.goto(`${server.url}/job/${job}/${path}`);
    await page.getByText(said).first().waitFor();
    await assertAccessible(page);
    await assertFits(page);
    await shot(page, `german-${path.replaceAll("/", "-")}`);
  }
  await page.getByRole("button", { name: "Echter Rauch" }).click();
  await page.getByText("Alle hinaus").waitFor();
  await assertAccessible(page);
  await assertFits(page);
  await shot(page, "german-real-smoke");
  assert.equal(await page.evaluate(() => document.documentElement.lang), "de");
});
