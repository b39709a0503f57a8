// What the panel says, and practice with planted mistakes.
import assert from "node:assert/strict";
import test from "node:test";
import { assertAccessible, assertFits, draft, openJob, serve, shot, views } from "./harness.js";

async function look(page, name) {
  for (const [view, { viewport }] of Object.entries(views)) {
    await page.setViewportSize(viewport);
    for (const colorScheme of ["light", "dark"]) {
      await page.emulateMedia({ colorScheme });
      await assertFits(page, { target: view === "phone" ? 56 : 44 });
      if (view === "phone") await assertAccessible(page);
      await shot(page, `practice-${name}-${view}-${colorScheme}`, { fullPage: view === "phone" });
    }
  }
  await page.setViewportSize(views.phone.viewport);
}

test("a label that the panel can not say gets other words at a tap", async (t) => {
  const server = await serve(t);
  const { page, job } = await openJob(t, server, "key/labels", { name: draft });
  await page.getByText("3 zones need other words").waitFor();
  await look(page, "labels");
  await page.getByRole("button", { name: "Have it say MAINS ALARMS SMOKE" }).click();
  await page.getByText("2 zones need other words").waitFor();

  await page.goto(`${server.url}/job/${job}/schedule/zone/04`);
  const sheet = page.getByRole("dialog");
  await sheet.getByText("ESCAPE is not in the list: BACK said instead").first().waitFor();
  await sheet.getByText("2 other ways to say it").click();
  await sheet.getByRole("button", { name: "Have it say DOOR UP", exact: true }).waitFor();
  await look(page, "label-zone");
  await sheet.getByRole("button", { name: "Apply" }).click();
  await sheet.getByRole("button", { name: "Have it say the label itself" }).waitFor();
  await page.goto(`${server.url}/job/${job}/key`);
  await page.getByRole("link", { name: "What the panel says" }).click();
  await page.getByText("One zone needs other words").waitFor();
  const { entries } = await (await fetch(`${server.url}/api/jobs/${job}/entries?after=1&limit=100`)).json();
  assert.deepEqual(
    entries.filter(({ kind }) => kind === "edit").map(({ body }) => body.patch),
    [{ zones: { "09": { label: "Mains alarms smoke" } } }, { zones: { "04": { words: ["BACK", "DOOR", "UP"] } } }],
  );
});
