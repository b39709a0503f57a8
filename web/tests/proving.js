// How a person goes through a proving run of Larkwater Mill, for the tests of it.
import assert from "node:assert/strict";
import { openJob, serve } from "./harness.js";

export const main = (page) => page.locator(".actions .main");
export const stepStrip = (page) => page.getByRole("article").getByRole("img");

/** Opens the proving of the corrected job, with its technician at work. */
export async function begin(t, { server, ...look } = {}) {
  const site = server ?? (await serve(t, { args: ["--demo", "--speed", "60"] }));
  const { page, job } = await openJob(t, site, "prove", look);
  await page.getByRole("heading", { level: 1 }).waitFor();
  return { page, server: site, job };
}

/** Does something in the simulated building, past the page. */
export async function simulate(server, command) {
  const answer = await fetch(`${server.url}/api/demo/panel`, { method: "POST", body: JSON.stringify(command) });
  assert.equal(answer.status, 200, await answer.text());
}

/** The zones of the job as the demo was loaded. */
export async function zonesOf(server, job) {
  const { entries } = await (await fetch(`${server.url}/api/jobs/${job}/entries?after=0&limit=1`)).json();
  const { body } = entries[0];
  return (body.patch ?? body.site ?? body).zones;
}

export async function openRun(page) {
  await page.getByRole("button", { name: "Open the run" }).click();
  await page.getByRole("heading", { name: "Put on test" }).waitFor();
}

/** The whole call, as the person at the telephone goes through it. `look` is called at each of its pages. */
export async function goOnTest(page, { look = async () => {} } = {}) {
  await look("call");
  await main(page).click();
  await main(page).filter({ hasText: "Call the simulated station" }).click();
  await page.getByText(/is on test until/).waitFor();
  await page.getByLabel("Account, as the operator reads it back").fill("4816");
  await page.getByLabel("The operator read the address back").check();
  await look("account");
  await main(page).click();
  await page.getByLabel("Operator's name").fill("Bao Ferrant");
  await page.getByLabel("Station's reference").fill("CR-4101");
  await look("confirm");
  await main(page).click();
  await page.getByRole("button", { name: /I send it now/ }).click();
  await page.getByText("It came here. Does the operator see it?").waitFor();
  await look("first");
  await main(page).click();
  await page.getByRole("heading", { name: / proved$/ }).waitFor();
}

/** Presses what the page offers until the step at hand waits for the station or is proved. */
export async function workStep(page, { upTo = /^(Next:|All tripped|Close)/ } = {}) {
  const hands = page.getByRole("region", { name: "Simulated building" });
  for (let n = 0; n < 12; n++) {
    const say = (await main(page).textContent()).trim();
    if (upTo.test(say)) return say;
    // What arrives may change the button meanwhile: then it is read again.
    const press = () =>
      main(page)
        .filter({ hasText: say.split(",")[0] })
        .click({ timeout: 3000 })
        .catch(() => {});
    if (/^I trip it/.test(say)) {
      const arm = hands.getByRole("button", { name: /^Arm area/ });
      if (await arm.count()) {
        await arm.click();
        await hands.getByRole("button", { name: /^Disarm area/, disabled: false }).waitFor();
      }
      await press();
      await main(page).filter({ hasNotText: "I trip it" }).waitFor();
      const trip = hands.getByRole("button", {
        name: /^(Trip|Press|Turn the key|Send a test|Mains off|Battery off|Block)/,
      });
      for (let i = 0; i < (await trip.count()); i++) await trip.nth(i).click();
    } else if (say === "It sounds") {
      await press();
    } else if (/^(Restored|Released)/.test(say)) {
      const clear = hands.getByRole("button", { name: /^(Clear|Release|Mains on|Battery on|Free)/ });
      await press(); // first said, then done: the restore that comes in would move the button on by itself
      if (await clear.count()) await clear.click();
    }
    // A countdown in the button's words is no change.
    try {
      await page.waitForFunction(
        (was) => document.querySelector(".actions .main")?.textContent.trim().split(",")[0] !== was,
        say.split(",")[0],
        { timeout: 15_000 },
      );
    } catch (reason) {
      const card = await page.getByRole("article").textContent();
      throw new Error(`stuck at "${say}", ${new URL(page.url()).pathname}:\n${card}\n${await hands.textContent()}`, {
        cause: reason,
      });
    }
  }
  throw new Error(`the step does not end: ${await main(page).textContent()}`);
}

/** The spoken names of all strips of the run. */
export async function strips(page, server, job) {
  await page.goto(`${server.url}/job/${job}/prove`);
  await page.getByRole("heading", { name: / proved$/ }).waitFor();
  // Straight from the document: a fold that is closed hides its strips from the eye, not from this.
  return page.evaluate(() =>
    [...document.querySelectorAll("main [role=img]")]
      .map((one) => one.getAttribute("aria-label") ?? "")
      .filter((label) => /station/.test(label)),
  );
}
