// What fills the station, and whose word counts: a history that is pasted, two people on one run, a site edited meanwhile.
import assert from "node:assert/strict";
import test from "node:test";
import { assertAccessible, assertFits, atWork, keptOffline, open, shot, views } from "./harness.js";
import { begin, goOnTest, main, openRun, strips, workStep } from "./proving.js";

async function look(page, name) {
  for (const [view, { viewport }] of Object.entries(views)) {
    await page.setViewportSize(viewport);
    for (const colorScheme of ["light", "dark"]) {
      await page.emulateMedia({ colorScheme });
      await assertFits(page, { target: view === "phone" ? 56 : 44 });
      await assertAccessible(page);
      await shot(page, `evidence-${name}-${view}-${colorScheme}`);
    }
  }
  await page.setViewportSize(views.phone.viewport);
  await page.emulateMedia({ colorScheme: "light" });
}

test("a station's history is laid over the run with no server: its clock confirmed, lines matched, what is open chosen", async (t) => {
  const { page, server, job } = await begin(t);
  await openRun(page);
  await goOnTest(page);
  for (let n = 0; n < 3; n++) {
    await workStep(page);
    await main(page).click();
    await main(page)
      .filter({ hasText: /^I trip it/ })
      .waitFor();
  }
  const { history } = await (await fetch(`${server.url}/api/demo/station`)).json();
  const hour = 3_600_000;
  const lines = history.map(({ at, zone, code, qualifier }) =>
    [
      new Date(Date.parse(at) - hour).toISOString().replace("T", " ").replace(/\.\d+/, ""),
      "4816",
      (qualifier === "restore" ? "R" : "E") + code,
      zone,
    ].join(";"),
  );
  lines.push(`${new Date(Date.now() - hour).toISOString().replace("T", " ").replace(/\.\d+/, "")};4816;E130;044`);

  await page.goto(`${server.url}/job/${job}/prove/history`);
  await page.getByLabel("The history, pasted").waitFor();
  await keptOffline(page);
  page.networkMayFail = true;
  await server.stop();
  await page.reload();
  await look(page, "paste");
  await page.getByLabel("The history, pasted").fill(["Time;Account;Code;Point", ...lines].join("\n"));
  await page.getByRole("button", { name: "Lay it over the run" }).click();
  await page.getByText(/clock is \d+ min \d\d s behind ours/).waitFor();
  assert.match(await main(page).textContent(), /First the clock/);
  assert.ok(await main(page).isDisabled());
  await look(page, "clock");
  await page.getByRole("button", { name: "That is right" }).click();
  await main(page)
    .filter({ hasText: /^Keep \d+ lines as read-back$/ })
    .waitFor();
  await page.getByRole("heading", { name: "One line that nothing of this run fits" }).waitFor();
  await page.getByText("How it was read").click();
  await look(page, "laid");
  await main(page).click();
  await page.getByRole("heading", { name: "Read-back" }).waitFor();
  await page.getByRole("button", { name: "Undo: Imported history" }).waitFor();
  const filled = (await strips(page, server, job)).filter((label) => /station proved/.test(label));
  assert.ok(filled.length >= 3, `${filled.length} stations filled`);
});

test("two people on one run, both with no signal: both ticks are kept, the first counts, what contradicts is decided by a person", async (t) => {
  const { page, server, job } = await begin(t);
  await openRun(page);
  await goOnTest(page);
  const other = await open(t, server.url);
  await atWork(other, job, "marlow");
  const people = [page, other];
  for (const who of people) {
    await who.goto(`${server.url}/job/${job}/prove/step/11.alarm`);
    await main(who).filter({ hasText: "I trip it now" }).waitFor();
    await keptOffline(who);
    who.networkMayFail = true;
  }
  await server.stop();
  for (const who of people) {
    await who.getByText("signals can not arrive here now").waitFor({ timeout: 30_000 });
    await main(who).filter({ hasText: "I trip it now" }).click();
    await main(who).filter({ hasText: "It sounds" }).waitFor();
  }
  await main(page).click(); // one hears it,
  await other.locator(".actions .beside").filter({ hasText: "Silent" }).click(); // the other does not
  for (const who of people) await who.getByRole("button", { name: /^Undo: (It sounds|Failed)/ }).waitFor();
  await server.restart();
  const both = page.getByRole("article").locator("xpath=..").getByRole("region", { name: "Two statements" });
  await both.first().waitFor({ timeout: 45_000 });
  await both.filter({ hasText: "The first counts" }).waitFor({ timeout: 45_000 });
  const grave = both.filter({ hasText: "One says that it works" });
  await grave.waitFor({ timeout: 45_000 });
  for (const name of ["Tamsin Okoro-Lind", "Piet Marlow"]) await grave.getByText(name).first().waitFor();
  await look(page, "differs");
  await grave.getByRole("button", { name: /Take back: Piet Marlow, Failed: No sound heard/ }).click();
  await grave.waitFor({ state: "detached" });
  await other.waitForFunction(
    () =>
      ![...document.querySelectorAll("[aria-label^='Two statements']")].some((one) =>
        one.textContent.includes("One says"),
      ),
    null,
    { timeout: 45_000 },
  );
  const { entries } = await (await fetch(`${server.url}/api/jobs/${job}/entries?after=0&limit=2000`)).json();
  const trips = entries.filter(
    ({ kind, body }) => kind === "tick" && body.step === "11.alarm" && body.what === "tripped",
  );
  assert.deepEqual(trips.map(({ by }) => by).sort(), ["marlow", "okoro-lind"], "both are kept");
  assert.equal(new Set(trips.map(({ body }) => body.from)).size, 2, "each with its device");
});

test("an edit of the site during a run is shown with what it changes, and taken in when a person says so", async (t) => {
  const { page, server, job } = await begin(t);
  await openRun(page);
  await page.goto(`${server.url}/job/${job}/schedule/zone/13`);
  await page.getByLabel("Station code").fill("110");
  const sent = page.waitForResponse(
    (answer) => answer.url().endsWith("/entries") && answer.request().method() === "POST" && answer.ok(),
  );
  await page.getByLabel("Station code").press("Enter");
  await sent; // a page that is left in mid-act keeps nothing of it
  await page.goto(`${server.url}/job/${job}/prove`);
  const notice = page.getByRole("region", { name: "The site was edited during this run" });
  await notice.getByText("expects 110 instead of 111").waitFor();
  await look(page, "edited");
  await notice.getByRole("button", { name: "Take the new plan in" }).click();
  await notice.waitFor({ state: "detached" });
});
