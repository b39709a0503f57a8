// What a technician does in a cellar must survive it: no signal, a dead phone, two tabs, a server that fell over.
import assert from "node:assert/strict";
import test from "node:test";
import { draft, keptOffline, open, openJob, serve } from "./harness.js";

/** Opens the first job at a stage with somebody at work, and waits for the engine's answer. */
async function job(t, server, stage, options) {
  return openJob(t, server, stage, { name: draft, ...options });
}

const rooms = async (server, job) => {
  const entries = [];
  for (let after = 0; ; ) {
    const answer = await (await fetch(`${server.url}/api/jobs/${job}/entries?after=${after}`)).json();
    if (!answer.entries?.length) return entries;
    entries.push(...answer.entries);
    after = entries.at(-1).seq;
  }
};

/** Entries of the book that add a room of this name. */
const adding = async (server, job, name) =>
  (await rooms(server, job)).filter((entry) => JSON.stringify(entry.body).includes(`"name":"${name}"`));

async function addRoom(page, name) {
  await page.getByRole("button", { name: "Add what you see" }).click();
  await page.getByRole("button", { name: /^A room/ }).click();
  await page.getByLabel("Name").fill(name);
  await page.getByRole("button", { name: "Add", exact: true }).click();
  await page.getByRole("heading", { name, exact: true }).waitFor();
  await page.getByRole("button", { name: "Done" }).click();
}

test("an edit is one entry, on every screen, and undo takes it back", async (t) => {
  const server = await serve(t);
  const { page, job: id } = await job(t, server, "survey");
  const other = await page.context().newPage();
  await other.goto(page.url());
  await other.getByText("Breakfast room").filter({ visible: true }).first().waitFor();

  await addRoom(page, "Coal hole");
  await other.getByText("Coal hole").filter({ visible: true }).first().waitFor();
  await assert.doesNotReject(page.getByText("Coal hole").filter({ visible: true }).first().waitFor());
  assert.equal((await adding(server, id, "Coal hole")).length, 1);

  await page.getByRole("button", { name: "Undo last edit" }).click();
  await page.getByText("Coal hole").first().waitFor({ state: "detached" });
  await other.getByText("Coal hole").first().waitFor({ state: "detached" });
});

test("edits made with the server down survive killing the page, and arrive once", async (t) => {
  const server = await serve(t);
  const { page, job: id } = await job(t, server, "survey");
  await page.getByText("Breakfast room").filter({ visible: true }).first().waitFor();
  await keptOffline(page);

  page.networkMayFail = true;
  await server.kill();
  await addRoom(page, "Apple loft");
  await page.getByText("waiting for a signal").waitFor();

  await page.close();
  const again = await page.context().newPage();
  await again.goto(`${server.url}/job/${id}/survey`);
  await again.getByText("Apple loft").filter({ visible: true }).first().waitFor();
  await addRoom(again, "Ice cellar");
  await again.getByText("2 edits waiting for a signal").waitFor();
  const second = await again.context().newPage();
  await second.goto(`${server.url}/job/${id}/survey`);
  await second.getByText("Ice cellar").filter({ visible: true }).first().waitFor();

  await server.restart();
  await again.getByText("waiting for a signal").waitFor({ state: "detached", timeout: 45_000 });
  await second.getByText("waiting for a signal").waitFor({ state: "detached" });
  for (const name of ["Apple loft", "Ice cellar"]) {
    await again.getByText(name).filter({ visible: true }).first().waitFor();
    assert.equal((await adding(server, id, name)).length, 1, name);
  }
});

test("a job that was never opened here says so when no server answers", async (t) => {
  const server = await serve(t);
  const page = await open(t, server.url);
  await page
    .getByRole("link", { name: /Larkwater/ })
    .first()
    .waitFor();
  await keptOffline(page);
  page.networkMayFail = true;
  await server.stop();
  await page
    .getByRole("link", { name: /Larkwater/ })
    .first()
    .click();
  await page.getByText("not on this device yet").waitFor();
  await page.getByRole("link", { name: "All jobs" }).click();
  await page.getByText("No server can be reached").waitFor();
});
