// A phone in the same network: it trusts the certificate, comes in by a code, helps, works with no signal, and is shut out.
import assert from "node:assert/strict";
import { join } from "node:path";
import test from "node:test";
import {
  assertAccessible,
  assertFits,
  atWork,
  inBoth,
  jobOf,
  keptOffline,
  open,
  serve,
  shot,
  trusting,
  views,
} from "./harness.js";

const lan = ["--demo", "--lan", "--lan-address", "127.0.0.1", "--lan-port", "0", "--trust-port", "0"];

/** What the QR code of a new pairing holds. */
async function code(server, role) {
  const answer = await fetch(`${server.url}/api/pairing`, { method: "POST", body: JSON.stringify({ role }) });
  assert.equal(answer.status, 200);
  return answer.json();
}

/** A phone that trusts the computer's certificate and was paired with it. */
async function phone(t, server, role, options) {
  const on = await trusting(t, join(server.data, "authority.pem"));
  const page = await open(t, "about:blank", { on, ...options });
  page.requestMayBeRefused = true;
  await page.goto((await code(server, role)).address);
  await page.getByText("The code was read.").waitFor();
  assert.equal(new URL(page.url()).hash, "", "the secret stays in the address");
  await page.getByLabel("What this device is called").fill("Phone of Ferrol");
  await page.getByRole("button", { name: "Pair", exact: true }).click();
  await page.getByRole("heading", { name: "Paired." }).waitFor();
  return page;
}

for (const [name, view] of Object.entries(views)) {
  test(`letting a phone in fits and is accessible, light and dark: ${name}`, async (t) => {
    const server = await serve(t, { args: lan });
    const look = (page, what) =>
      inBoth(page, async (scheme) => {
        await assertAccessible(page);
        await assertFits(page, { target: name === "phone" ? 56 : 44 });
        await shot(page, `pairing-${what}-${name}-${scheme}`);
      });
    const lead = await open(t, `${server.url}/device`, { view });
    await lead.getByRole("button", { name: "Code for a helper" }).click();
    const digits = await lead.getByText(/^\d{4} \d{4}$/).textContent();
    await lead.getByRole("img", { name: "QR code for pairing" }).waitFor();
    await look(lead, "lead");

    const on = await trusting(t, join(server.data, "authority.pem"));
    const page = await open(t, "about:blank", { on, view });
    page.requestMayBeRefused = true;
    await page.goto(server.lan);
    await page.getByText("This device is not paired").first().waitFor();
    await page.getByRole("link", { name: "Pair this device" }).click();
    await page.getByLabel("Eight digits").fill("1234 5678");
    await page.getByLabel("What this device is called").fill("Tablet of Hedda");
    await page.getByRole("button", { name: "Pair", exact: true }).click();
    await page.getByText("This code is not known").waitFor();
    await look(page, "phone");
    await page.getByLabel("Eight digits").fill(digits);
    await page.getByRole("button", { name: "Pair", exact: true }).click();
    await page.getByRole("heading", { name: "Paired." }).waitFor();
    await page.getByRole("button", { name: "To the jobs" }).click();
    await page
      .getByRole("link", { name: /Larkwater Mill/ })
      .first()
      .waitFor();
    assert.equal(await page.getByRole("button", { name: "Begin" }).count(), 0, "a helper begins no job");
    await lead.getByText("Tablet of Hedda").waitFor();
    await look(lead, "list");
  });
}

test("the page for the certificate says what trusting means, in both languages", async (t) => {
  const server = await serve(t, { args: lan });
  for (const [locale, words] of [
    ["en-GB", "How to take it back"],
    ["de-AT", "Wie man es zurücknimmt"],
  ]) {
    const page = await open(t, "about:blank", { locale });
    page.requestMayBeRefused = true; // a browser asks for an icon
    await page.goto(server.trust);
    await page.getByRole("heading", { name: words }).waitFor();
    await inBoth(page, async (scheme) => {
      await assertFits(page);
      await shot(page, `trust-${locale}-${scheme}`);
    });
  }
});

test("a paired phone works with no signal, and what it did arrives once; removed, it keeps what it has", async (t) => {
  const server = await serve(t, { args: lan });
  const job = await jobOf(server);
  const page = await phone(t, server, "lead");
  await atWork(page, job);
  await page.goto(`${server.lan}/job/${job}/schedule/zone/09`);
  const label = page.getByRole("dialog").getByLabel("Label");
  await label.waitFor();
  await keptOffline(page);

  page.networkMayFail = true;
  await page.context().setOffline(true);
  await page.reload();
  await label.fill("PORCH SMOKE");
  await label.blur();
  await page.getByText("waiting for a signal").waitFor();
  const sent = page.waitForResponse((answer) => answer.request().method() === "POST" && answer.ok());
  await page.context().setOffline(false);
  await sent;

  const { devices } = await (await fetch(`${server.url}/api/devices`)).json();
  assert.deepEqual(
    devices.map(({ name, role }) => [name, role]),
    [["Phone of Ferrol", "lead"]],
  );
  const removed = await fetch(`${server.url}/api/devices/${devices[0].id}/remove`, { method: "POST" });
  assert.equal(removed.status, 200);
  await page.getByText("This device is not paired").first().waitFor();
  await label.fill("PORCH AND STAIR");
  await label.blur();
  await page.getByText("waiting for a signal").waitFor();
  await assertAccessible(page);
  await assertFits(page);
  await shot(page, "removed-phone-light");
  await page.getByRole("dialog").getByRole("button", { name: "Done" }).click();

  // Paired anew, it sends what it kept.
  const arrived = (answer) => answer.request().method() === "POST" && /entries$/.test(answer.url()) && answer.ok();
  const later = page.waitForResponse(arrived, { timeout: 40_000 });
  await page.getByRole("link", { name: "Pair this device" }).click();
  await page.getByLabel("Eight digits").fill((await code(server, "lead")).digits);
  await page.getByLabel("What this device is called").fill("Phone of Ferrol");
  await page.getByRole("button", { name: "Pair", exact: true }).click();
  await page.getByRole("heading", { name: "Paired." }).waitFor();
  await later;
  await page.getByRole("button", { name: "To the jobs" }).click();
  await page
    .getByRole("link", { name: /Larkwater Mill/ })
    .first()
    .waitFor();
});

test("a helper reads who does it before the tap, and is refused the act", async (t) => {
  const server = await serve(t, { args: lan });
  const job = await jobOf(server);
  const page = await phone(t, server, "helper");
  // The name of another, as it might have been kept from before, counts no more: the device has one of its own.
  await atWork(page, job);
  await page.goto(`${server.lan}/job/${job}/look`);
  await page.getByText("You help here").waitFor();
  await page.getByLabel("Note for whoever comes next").fill("Ladder is behind the wheel");
  await page.getByRole("button", { name: "Keep the note" }).click();
  const who = page.getByRole("dialog", { name: "Who is at work?" });
  await who.getByText("carries your name, and no other").waitFor();
  assert.equal(
    await who.getByRole("button", { name: /Okoro-Lind/ }).count(),
    0,
    "another's name is offered to a helper",
  );
  await shot(page, "helper-name-phone-light");
  await who.getByLabel("Name", { exact: true }).fill("Ferrol Vane");
  await who.getByRole("button", { name: "At work" }).click();
  await page
    .getByRole("listitem")
    .filter({ hasText: "Ladder is behind the wheel" })
    .filter({ hasText: "Ferrol Vane" })
    .waitFor();
  const by = await page.evaluate(() => localStorage.getItem("proofbell.by"));
  assert.match(by, /^device-[0-9a-f]{12}$/);
  await page.waitForFunction(
    async ([job, by]) => {
      const { entries } = await (await fetch(`/api/jobs/${job}/entries?after=0`)).json();
      return entries.some((entry) => entry.kind === "note" && entry.by === by);
    },
    [job, by],
  );
  await page.goto(`${server.lan}/job/${job}/schedule/zone/09`);
  const label = page.getByRole("dialog").getByLabel("Label");
  await label.fill("Something else");
  await label.blur();
  await page.getByText("A helper does not change the building, the zones or the panel").waitFor();
  await assertAccessible(page);
  await assertFits(page);
  await shot(page, "helper-refused-phone-light");
  await page.goto(`${server.lan}/job/${job}/prove`);
  await page.getByText("The lead opens a run").first().waitFor();
  // Past the page: the server refuses it as well.
  const status = await page.evaluate(
    async (job) =>
      (await fetch(`/api/jobs/${job}/erase`, { method: "POST", body: '{"name":"Larkwater Mill"}' })).status,
    job,
  );
  assert.equal(status, 403);
});
