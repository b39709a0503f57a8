// The pages of a proving run: without a receiver, at every size and in both schemes, and after a slip of the finger.
import assert from "node:assert/strict";
import test from "node:test";
import { assertAccessible, assertFits, keptOffline, shot, views } from "./harness.js";
import { begin, goOnTest, main, openRun, stepStrip, workStep } from "./proving.js";

test("with the receiver gone the strips stay empty, and no tick is lost or doubled", async (t) => {
  const { page, server, job } = await begin(t);
  await openRun(page);
  await goOnTest(page);
  await keptOffline(page);
  page.networkMayFail = true;
  await server.stop();
  await page.getByText("signals can not arrive here now").waitFor();
  await main(page).click();
  await main(page)
    .filter({ hasText: /^Waiting for the signal/ })
    .waitFor();
  const name = await page.getByRole("article").getByRole("heading").textContent();
  for (const stop of ["panel", "line", "station"])
    assert.doesNotMatch(await stepStrip(page).getAttribute("aria-label"), new RegExp(`${stop} (proved|sounder)`));

  await page.reload();
  await page.getByRole("article").getByRole("heading", { name }).waitFor();
  assert.match(await main(page).textContent(), /Waiting for the signal/, "the tick outlived the page");
  await page
    .getByRole("article")
    .getByRole("button", { name: /^Undo: Tripped/ })
    .waitFor();

  const sent = page.waitForResponse(
    (answer) => answer.url().endsWith("/entries") && answer.request().method() === "POST" && answer.ok(),
    { timeout: 30_000 },
  );
  await server.restart();
  await sent;
  const { entries } = await (await fetch(`${server.url}/api/jobs/${job}/entries?after=0&limit=2000`)).json();
  const trips = entries.filter(({ kind, body }) => kind === "tick" && body.what === "tripped");
  assert.equal(trips.length, 2, "the harmless first signal and this one, each once");
});

test("every page of a run fits, is accessible, and takes back a slip", async (t) => {
  const { page, server, job } = await begin(t);
  const look = async (name) => {
    for (const [view, { viewport }] of Object.entries(views)) {
      await page.setViewportSize(viewport);
      for (const colorScheme of ["light", "dark"]) {
        await page.emulateMedia({ colorScheme });
        await assertFits(page, { target: view === "phone" ? 56 : 44 });
        if (view === "phone") await assertAccessible(page);
        if (view === "phone" && colorScheme === "light") await shot(page, `prove-${name}`);
      }
    }
    await page.setViewportSize(views.phone.viewport);
    await page.emulateMedia({ colorScheme: "light" });
  };
  const visit = async (path, waitFor) => {
    await page.goto(`${server.url}/job/${job}/prove/${path}`);
    await page.getByRole("heading", { name: waitFor, level: 1 }).waitFor();
  };
  await look("new");
  await openRun(page);
  await goOnTest(page, { look });
  await look("step");
  await workStep(page);
  await main(page).click();
  await main(page).filter({ hasText: "I trip it now" }).waitFor();
  await main(page).click();
  await page.getByRole("button", { name: /^Undo: Tripped/ }).click();
  await main(page).filter({ hasText: "I trip it now" }).waitFor();
  await page.getByRole("button", { name: "Say more" }).click();
  await page.getByRole("button", { name: "Can not be tested" }).click();
  await look("reason");
  await page.getByRole("button", { name: "No access" }).click();
  await page.getByRole("article").getByText("Not testable: No access").first().waitFor();

  await visit("readback", "Read-back");
  const line = page.getByRole("listitem").filter({ hasText: "Wheel room water" }).first().getByRole("button").first();
  await line.click();
  await page
    .getByRole("listitem")
    .filter({ hasText: "Wheel room water" })
    .first()
    .getByText("seen", { exact: true })
    .waitFor();
  await line.dblclick();
  await page
    .getByRole("listitem")
    .filter({ hasText: "Wheel room water" })
    .first()
    .getByRole("button", { name: /not all of it$/ })
    .click();
  const alarm = page.getByRole("listitem").getByRole("button", { name: /water.*: not there$/i });
  await alarm.first().dblclick();
  await page.locator("li.not-seen").waitFor();
  await look("readback");
  await page.getByRole("button", { name: /^Undo: Zone/ }).click();
  await page.locator("li.not-seen").waitFor({ state: "detached" });
  const log = `${server.url}/api/jobs/${job}/entries?after=0&limit=2000`;
  const readbacks = ({ entries }) => entries.filter(({ kind }) => kind === "readback").length;
  await page.waitForFunction(
    async (url) => (await (await fetch(url)).json()).entries.filter(({ kind }) => kind === "readback").length >= 4,
    log,
  );
  assert.equal(
    readbacks(await (await fetch(log)).json()),
    4,
    "the first signal, seen, not there, taken back: once each",
  );
  await visit("watch", "From 2 m");
  await look("watch");
  await visit("panel", "Simulated panel");
  await look("panel");
  await visit("close", "Close the run");
  await look("close");
});
