// Look after: a call-out with no signal, what falls due, what a change obliges, taking over; phone and laptop.
import assert from "node:assert/strict";
import test from "node:test";
import { assertAccessible, assertFits, inBoth, keptOffline, openJob, serve, shot, views, visit } from "./harness.js";
import { listed } from "./keying.js";
import { main } from "./proving.js";

async function begin(t, look = {}) {
  const server = await serve(t, { args: ["--demo", "--speed", "60"] });
  const { page, job } = await openJob(t, server, "look", look);
  await page.getByRole("heading", { name: "Look after", level: 1 }).waitFor();
  await page.getByRole("heading", { name: "What falls due" }).waitFor();
  return { page, server, job };
}

/** Gives everything a sticker and returns the token of one device's. */
async function stickers(page, server, job, device) {
  await page.goto(`${server.url}/job/${job}/look/stickers`);
  await page.getByRole("button", { name: /^Give \d+ things a token/ }).click();
  await page.getByText(/to print/).waitFor();
  const item = page.getByRole("listitem").filter({ has: page.getByRole("img", { name: `Code of ${device}` }) });
  return (await item.locator(".token").textContent()).trim();
}

test("a call-out from a sticker, with the network off: on test for one category, one device proved, off test", async (t) => {
  const { page, server, job } = await begin(t);
  const token = await stickers(page, server, job, "03 Lounge doors");
  assert.match(token, /^[0-9A-Z]{4}-[0-9A-Z]{4}$/);
  await keptOffline(page);
  await page.waitForFunction(
    ([id, wanted]) =>
      new Promise((done) => {
        const request = indexedDB.open("proofbell");
        request.onsuccess = () => {
          const get = request.result.transaction("jobs").objectStore("jobs").get(id);
          get.onsuccess = () => {
            request.result.close();
            done((get.result?.index ?? []).some((line) => line.token === wanted));
          };
        };
      }),
    [job, token],
  );

  page.networkMayFail = true;
  await server.stop();
  await page.goto("about:blank");
  const began = Date.now();
  await page.goto(`${server.url}/s/${token.toLowerCase().replace("-", "")}`);
  await page.getByRole("heading", { name: /^03 Lounge doors/, level: 1 }).waitFor();
  await main(page).filter({ hasText: "Begin the call-out" }).waitFor();
  t.diagnostic(`from the sticker to the screen with no server: ${Date.now() - began} ms`);
  assert.match(new URL(page.url()).pathname, /\/look\/call\/devices\/lounge-doors$/);
  await page.getByText("Never proved.").waitFor();
  await page.getByText(/m above the floor: ladder/).waitFor();
  await page.getByLabel("Symptom").selectOption({ label: "Trips again and again" });
  await page.getByText("Magnet loose").waitFor();
  await main(page).click();

  await page.getByLabel(/the station's read-back alone/).check();
  await main(page).filter({ hasText: "Put on test" }).click();
  await page.getByRole("heading", { name: "Put on test", level: 1 }).waitFor();
  const pressed = async (name) => page.getByRole("button", { name, exact: true }).getAttribute("aria-pressed");
  assert.equal(await pressed("Burglary"), "true");
  assert.equal(await pressed("Fire"), "false", "fire is not put on test unless it is chosen");
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

  // Back on the screen of the call-out it says what comes next; and then the one door is tripped.
  await page.goto(`${server.url}/s/${token}`);
  await main(page).filter({ hasText: "Mended: prove it" }).click();
  await main(page).filter({ hasText: "I trip it" }).click();
  await main(page).filter({ hasNotText: "I trip it" }).waitFor();
  await page.goto(`${server.url}/job/${job}/prove/readback`);
  await page.getByRole("heading", { name: "Read-back", level: 1 }).waitFor();
  for (;;) {
    const open = page.locator("button.line[aria-pressed=false]");
    const left = await open.count();
    if (left === 0) break;
    await open.first().click();
    await page.waitForFunction((n) => document.querySelectorAll("button.line[aria-pressed=false]").length < n, left);
  }
  await page.goto(`${server.url}/job/${job}/prove`);
  await main(page).filter({ hasText: "Restored" }).click();
  await main(page).filter({ hasNotText: "Restored" }).waitFor();
  await page.goto(`${server.url}/job/${job}/prove/readback`);
  await page.locator("button.line[aria-pressed=false]").first().click();
  await page.getByText(/^(\d+) of \1 lines read$/).waitFor();
  await main(page).click();
  await page.getByLabel(/nothing is still on test or bypassed/).check();
  await main(page).filter({ hasText: "Live again" }).click();
  await page.getByText(/the account is live, nothing is left on test/).waitFor();

  await page.goto(`${server.url}/s/${token}`);
  await main(page).filter({ hasText: "Close the run" }).click();
  await page.getByRole("heading", { name: "Close the run", level: 1 }).waitFor();
  await main(page).filter({ hasText: "Close the run" }).click();
  await page.getByText("This run is closed.").waitFor();
  await page.goto(`${server.url}/s/${token}`);
  await main(page).filter({ hasText: "End the visit" }).click();
  await page.getByLabel("What it came to").fill("Magnet glued anew.");
  await page.getByLabel(/Next visit agreed for/).fill("2027-03");
  await main(page).click();
  await page.getByRole("heading", { name: "What falls due" }).waitFor();
  await page.goto(`${server.url}/s/${token}`);
  await page.getByText(/Last proved/).waitFor();
  await page.getByText(/Magnet glued anew/).waitFor();

  // Everything was kept on the device; with the server back it arrives once.
  const sent = page.waitForResponse(
    (answer) => answer.url().endsWith("/entries") && answer.request().method() === "POST" && answer.ok(),
    { timeout: 30_000 },
  );
  await server.restart();
  await sent;
  const { entries } = await (await fetch(`${server.url}/api/jobs/${job}/entries?after=0&limit=2000`)).json();
  assert.equal(
    entries.filter(
      ({ kind, body }) =>
        kind === "visit" && body.act === "opened" && body.reason === "call-out" && body.symptom === "swinging",
    ).length,
    1,
  );
  const [run] = entries.filter(({ kind, body }) => kind === "run" && body.act === "opened");
  assert.deepEqual(run.body.scope, { steps: ["03.alarm"], reason: "call-out", noReceiver: true });
});

test("every page of looking after fits and is accessible, on phone and laptop, light and dark, in both languages", async (t) => {
  const { page, server, job } = await begin(t);
  const look = async (name) => {
    for (const [view, { viewport }] of Object.entries(views)) {
      await page.setViewportSize(viewport);
      await inBoth(page, async (scheme) => {
        await assertFits(page, { target: view === "phone" ? 56 : 44 });
        if (view === "phone" || scheme === "light") await assertAccessible(page);
        await shot(page, `look-${name}-${view}-${scheme}`);
      });
    }
    await page.setViewportSize(views.phone.viewport);
  };
  const turnTo = async (path, waitFor) => {
    await visit(page, `${server.url}/job/${job}/${path}`);
    await page.getByRole("heading", { name: waitFor, level: 1 }).waitFor();
  };

  await look("rounds");
  await page.getByRole("link", { name: /Alarms at the end of their life/ }).click();
  await page.getByText("Replace alarm M2").waitFor();
  await look("round");
  await turnTo("look/call", "Call-out: to what?");
  await page.getByLabel("Zone, label, room or alarm").fill("hall");
  await page.getByRole("link", { name: /^12 Hall smoke/ }).waitFor();
  await look("call-what");
  await page.getByRole("link", { name: /^12 Hall smoke/ }).click();
  await page.getByRole("heading", { name: /^12 Hall smoke/, level: 1 }).waitFor();
  await page.getByLabel("Symptom").selectOption({ label: "Alarm without smoke" });
  await look("call");
  await main(page).click();
  await page.getByRole("link", { name: "Found" }).click();
  await page.getByLabel("What was found").fill("Steam from the bath reaches the hall when the door stands open.");
  await page.getByRole("button", { name: "Write it down" }).click();
  await page.getByText("Fix: soon").waitFor();
  await look("visit");
  await page.getByLabel("What it came to").fill("Told the manager; door closer ordered.");
  await main(page).click();
  await page.getByRole("heading", { name: "Found and not mended" }).waitFor();
  await turnTo("look/takeover", "Taking over");
  await page.getByText("The installer code", { exact: false }).first().waitFor();
  await look("takeover");
  await page.getByRole("radio", { name: "As made" }).check({ force: true });
  await page.getByText("The installer code is still as made: anybody can look it up.").first().waitFor();
  await turnTo("look/stickers", "Stickers");
  await page.getByRole("button", { name: /^Give \d+ things a token/ }).click();
  await page.getByRole("img", { name: /^Code of 12 Hall smoke/ }).waitFor();
  await look("stickers");

  await page.goto(server.url);
  await page.getByRole("searchbox").fill("millrace");
  await page.getByRole("link", { name: /1 Millrace Lane/ }).waitFor();
  await page.getByRole("searchbox").fill("paper store");
  await page
    .getByRole("link", { name: /Paper store/ })
    .first()
    .waitFor();
  await look("find");

  await page.evaluate(() => localStorage.setItem("proofbell.language", "de"));
  await page.reload(); // a language is chosen before the pages begin
  await turnTo("look", "Betreuung");
  await page.getByRole("heading", { name: "Was fällig wird" }).waitFor();
  await look("rounds-de");
  await turnTo("look/call/devices/hall-smoke", /^12 Hall smoke/);
  await page.getByLabel("Erscheinung").selectOption({ label: "Alarm ohne Rauch" });
  await look("call-de");
});

test("new batteries of one batch oblige their devices by name, and a run over just these opens", async (t) => {
  const { page, server, job } = await begin(t);
  await page.goto(`${server.url}/job/${job}/look/change`);
  await page.getByText("Nothing was proved or issued as a whole yet").waitFor();
  await page.goto(`${server.url}/job/${job}/prove`);
  await page.getByRole("button", { name: "Open the run" }).click();
  await page.getByRole("heading", { name: "Put on test" }).waitFor();
  await page.goto(`${server.url}/job/${job}/prove/close`);
  await page.getByRole("heading", { name: "Close the run", level: 1 }).waitFor();
  await page.getByRole("textbox").fill("only to begin from here");
  await main(page).click();
  await page.getByText("This run is closed.").waitFor();

  // Six smoke detectors with sounder were fitted with batteries in August 2026: 11, 12, 13, 15, 31 and 33.
  await page.goto(`${server.url}/job/${job}/look`);
  await page.locator("summary", { hasText: "Later" }).click();
  await page.getByRole("link", { name: /Batteries: Smoke detector with sounder, fitted 2026-08/ }).click();
  await page.getByLabel("Date on the new batteries").fill("2029-02");
  await page.getByRole("button", { name: "Fitted: write it on all 6" }).click();
  await page.getByText("This round is done").waitFor();
  await page.goto(`${server.url}/job/${job}/look`);
  await page
    .getByRole("link", { name: /Changes oblige 6 steps to be proved again.*6 affected, 0 of the rest/ })
    .click();
  await page.getByRole("heading", { name: "Affected: prove all 6" }).waitFor();
  for (const name of [
    "Landing smoke",
    "Hall smoke",
    "Lounge smoke",
    "Paper store smoke",
    "Owner flat smoke",
    "Office smoke",
  ])
    await page.getByRole("listitem").filter({ hasText: name }).getByText("got a new battery").waitFor();
  for (const { viewport } of Object.values(views)) {
    await page.setViewportSize(viewport);
    await assertFits(page, { target: viewport.width < 1000 ? 56 : 44 });
    await assertAccessible(page);
  }
  await shot(page, "look-change-desk");
  await main(page).filter({ hasText: "Open a run: 7 steps" }).click();
  await page.getByRole("heading", { name: "Put on test", level: 1 }).waitFor();
  const opened = ({ kind, body }) => kind === "run" && body.act === "opened" && body.scope.reason === "change";
  const { scope } = (await listed(page, server, job, opened)).find(opened).body;
  assert.deepEqual(scope.steps.toSorted(), ["11.alarm", "12.alarm", "13.alarm", "15.alarm", "31.alarm", "33.alarm"]);
});
