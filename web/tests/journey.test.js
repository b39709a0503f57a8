// The whole job in a cellar: from the survey to the closed run with no signal, then one copy of everything.
import assert from "node:assert/strict";
import test from "node:test";
import { keptOffline, openJob, serve } from "./harness.js";
import { main } from "./proving.js";

/** The ids of what this device still has to send. */
const outbox = (page) =>
  page.evaluate(
    () =>
      new Promise((done) => {
        const request = indexedDB.open("proofbell");
        request.onsuccess = () => {
          const all = request.result.transaction("outbox").objectStore("outbox").getAll();
          all.onsuccess = () => {
            request.result.close();
            done(all.result.map(({ content }) => content.id));
          };
        };
      }),
  );

test("from the survey to the closed run with the network off, then one copy of everything", async (t) => {
  const server = await serve(t);
  const { page, job } = await openJob(t, server, "survey");
  const base = `${server.url}/job/${job}`;
  await page.getByRole("heading", { level: 1 }).waitFor();
  await keptOffline(page);
  page.networkMayFail = true;
  await server.stop();

  // Survey: a room that nobody had told of.
  await page.goto(`${base}/survey/add/room`);
  await page.getByLabel("Name", { exact: true }).fill("Boat store");
  await page.getByRole("button", { name: "Add", exact: true }).click();
  await page.getByRole("heading", { name: "Boat store" }).waitFor();

  // Schedule: the zone is called otherwise from now on. Key in: its cards, to the last.
  await page.goto(`${base}/schedule/zone/25`);
  await page.getByLabel("Label", { exact: true }).fill("Boiler water");
  await page.getByRole("button", { name: "Done" }).click();
  await page.getByText("Boiler water", { exact: true }).filter({ visible: true }).first().waitFor();
  await page.goto(`${base}/key/zone/25/1`);
  for (let last = ""; !/Zone is kept/.test(last); ) {
    await main(page).waitFor();
    last = await main(page).textContent();
    const was = await page.getByText(/Answer \d+ of \d+\./).textContent();
    await main(page).click();
    await page.waitForFunction(
      (before) => !document.querySelector("main").textContent.includes(before),
      was.slice(0, 15),
    );
  }

  // Prove: one zone, by the station's read-back alone.
  await page.goto(`${base}/prove`);
  await page.getByText("Chosen zones").click();
  await page.getByText(/^25/).click();
  await page.getByText("No: read-back alone").click();
  await main(page).filter({ hasText: "Open the run" }).click();
  await page.getByRole("heading", { name: "Put on test", level: 1 }).waitFor();
  await main(page).click();
  await page.getByLabel("Account, as the operator reads it back").fill("4816");
  await page.getByLabel("The operator read the address back").check();
  await main(page).click();
  await page.getByLabel("Operator's name").fill("Bao Ferrant");
  await page.getByLabel("Station's reference").fill("CR-4101");
  await main(page).click();
  await page.getByRole("button", { name: /I send it now/ }).click();
  await page.getByLabel(/The operator read out/).check();
  await main(page).click();
  await page.getByRole("heading", { name: / proved$/ }).waitFor();

  const read = async () => {
    await page.goto(`${base}/prove/readback`);
    await page.getByRole("heading", { name: "Read-back", level: 1 }).waitFor();
    const open = page.locator("button.line[aria-pressed=false]");
    for (let left = await open.count(); left > 0; left = await open.count()) {
      await open.first().click();
      await page.waitForFunction((n) => document.querySelectorAll("button.line[aria-pressed=false]").length < n, left);
    }
  };
  await main(page).filter({ hasText: "Next: 25 Boiler water" }).click();
  await main(page).filter({ hasText: "I trip it" }).click();
  await main(page).filter({ hasNotText: "I trip it" }).waitFor();
  await read();
  await page.goto(`${base}/prove`);
  await main(page).filter({ hasText: "Restored" }).click();
  await main(page).filter({ hasNotText: "Restored" }).waitFor();
  await read();
  await page.getByText(/^(\d+) of \1 lines read$/).waitFor();
  await main(page).click();
  await page.getByLabel(/nothing is still on test or bypassed/).check();
  await main(page).filter({ hasText: "Live again" }).click();
  await page.getByText(/the account is live, nothing is left on test/).waitFor();
  await page.goto(`${base}/prove/close`);
  await main(page).filter({ hasText: "Close the run" }).click();
  await page.getByText("This run is closed.").waitFor();

  // Look after: a note for whoever comes next. Then the browser dies, and later there is a signal.
  await page.goto(`${base}/look`);
  await page.getByLabel("Note for whoever comes next").fill("The key of the boat store hangs behind the wheel.");
  await page.getByRole("button", { name: "Keep the note" }).click();
  await page.getByText("The key of the boat store").first().waitFor();
  const made = await outbox(page);
  assert.ok(made.length > 15, `${made.length} acts were made`);
  await page.close();
  await server.restart();
  const again = await page.context().newPage();
  await again.goto(`${base}/look`);
  await again.getByText("The key of the boat store").first().waitFor();
  await again.waitForFunction(
    async ([url, ids]) => {
      const { entries } = await (await fetch(url)).json();
      return ids.every((id) => entries.some((entry) => entry.id === id));
    },
    [`${server.url}/api/jobs/${job}/entries?after=0&limit=2000`, made],
    { timeout: 30_000, polling: 500 },
  );
  const { entries } = await (await fetch(`${server.url}/api/jobs/${job}/entries?after=0&limit=2000`)).json();
  const ids = entries.map(({ id }) => id);
  assert.equal(new Set(ids).size, ids.length, "no entry is there twice");
  assert.deepEqual(
    ids.filter((id) => made.includes(id)),
    made,
    "each once, in the order in which it was made",
  );
  assert.deepEqual(
    entries.filter(({ kind }) => kind === "run").map(({ body }) => body.act),
    ["opened", "closed"],
  );
  await again.waitForFunction(() => !/waiting for a signal/.test(document.body.textContent), null, { timeout: 30_000 });
});
