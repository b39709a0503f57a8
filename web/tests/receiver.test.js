// The page of the receiver: what a badly set panel sends is shown, with the byte at which it is wrong and what it should be.
import assert from "node:assert/strict";
import { once } from "node:events";
import { connect } from "node:net";
import test from "node:test";
import { assertAccessible, assertFits, open, serve, shot, views } from "./harness.js";

/** CRC-16/ARC over the body, bit by bit (DC-09-2007 5.5.1.2); 123456789 gives BB3D. */
function crc(body) {
  let sum = 0;
  for (const byte of Buffer.from(body, "latin1")) {
    sum ^= byte;
    for (let i = 0; i < 8; i++) sum = sum & 1 ? (sum >> 1) ^ 0xa001 : sum >> 1;
  }
  return sum.toString(16).toUpperCase().padStart(4, "0");
}
assert.equal(crc("123456789"), "BB3D");

const frame = (body) => `\n${crc(body)}${body.length.toString(16).toUpperCase().padStart(4, "0")}${body}\r`;

/** Sends bytes by one connection, as a panel does, and closes it. */
async function send(server, ...pieces) {
  const [host, port] = server.signals.split(":");
  const socket = connect(Number(port), host);
  await once(socket, "connect");
  for (const piece of pieces) socket.write(Buffer.from(piece, "latin1"));
  socket.end();
  socket.resume();
  await once(socket, "close");
}

const fire = '"SIA-DCS"0001L0#1234[#1234|Nri1/FA005]';
const broken = {
  checksum: `\nFD680026${fire}\r`,
  length: `\nFD670027${fire}\r`,
  kind: frame('"FOO-BAR"0007L0#1234[#1234|x]'),
  encrypted:
    '\nACF00076"*SIA-DCS"0006L0#4816[99C59FE7741C3740ED209ED711C14129FD5C82DA2B0D5F18037918C151E98271FC595DB2C1EC81A9B066787A65A7F07B\r',
  garbage: "GET / HTTP/1.1\r\nHost: panel\r\n\r\n",
};

const rows = (page) => page.locator("section", { hasText: "Newest frames" }).getByRole("listitem").getByRole("link");
const ranges = (page) => page.getByRole("group", { name: "The frame, range by range" });
/** The text of the range that is marked. */
const marked = (page) => ranges(page).locator("mark").textContent();

test("a frame that can not be taken says at which byte, why, and what it should be", async (t) => {
  const server = await serve(t, { args: [] });
  const page = await open(t, server.url);
  await page.getByRole("link", { name: /^Receiver/ }).click();
  await page.getByRole("heading", { name: "Receiver", level: 1 }).waitFor();
  await page.getByText("Nothing came since this program was started.").waitFor();
  await page.getByText("This is never a monitoring station.").waitFor();
  await assertFits(page);
  await assertAccessible(page);
  await shot(page, "receiver-empty");

  await send(server, frame(fire));
  await rows(page).filter({ hasText: "fire alarm, zone 005" }).filter({ hasText: "stored, not answered" }).waitFor();

  await send(server, broken.checksum);
  await rows(page)
    .filter({ hasText: /wrong checksum, byte 1$/ })
    .click();
  await page.getByText("The checksum says FD68. Over the bytes that came it is FD67.").waitFor();
  assert.equal(await marked(page), "FD68");
  const right = page.getByRole("group", { name: "The right frame, range by range" });
  assert.match(await right.textContent(), /FD67\s*0026/);
  await page.getByText("Nothing. What is damaged is not answered").waitFor();
  await assertFits(page);
  await assertAccessible(page);
  await shot(page, "receiver-checksum");

  // A tap on a range opens its lesson; a tap on a lesson marks its range.
  await ranges(page).getByText("#1234", { exact: true }).click();
  await page.getByText("1 to 16 hexadecimal digits behind #.").waitFor();
  await page
    .getByRole("button", { name: /^Length/ })
    .first()
    .click();
  assert.equal(await marked(page), "0026");
  await page.getByLabel("Bytes in hexadecimal").check();
  await page.getByText("30 30 32 36").first().waitFor();

  for (const [name, inList, says] of [
    ["length", /wrong length, byte 5$/, "The length says 0027. The body that came has 0026."],
    ["kind", /unknown kind, byte 10$/, "The kind FOO-BAR is not one that is read here."],
    ["garbage", /no frame, byte 0$/, /bytes that belong to no frame/],
  ]) {
    await page.getByRole("link", { name: "All frames" }).click();
    await send(server, broken[name]);
    await rows(page).filter({ hasText: inList }).first().click();
    await page.getByText(says).first().waitFor();
    await assertFits(page);
    await shot(page, `receiver-${name}`);
  }
  await page.goBack();
  await page.getByLabel("Only what could not be taken").check();
  await rows(page).filter({ hasText: "wrong checksum" }).waitFor();
  assert.equal(await rows(page).filter({ hasText: "fire alarm" }).count(), 0, "what was taken is left out");
});

test("at a desk: the list stands still while one reads, and the keyboard is enough", async (t) => {
  const server = await serve(t, { args: [] });
  const page = await open(t, `${server.url}/receiver`, { view: views.desk });
  await page.getByText("Point a panel here").waitFor();
  await send(server, broken.checksum, frame('"ADM-CID"0002L0#4816[#4816|1110 01 005][KSECRETKEY][SMill]'));
  const contact = rows(page).filter({ hasText: "zone 005" });
  await contact.waitFor();
  await contact.focus();
  await page.keyboard.press("Enter");
  await ranges(page).focus();
  assert.equal(await marked(page), "110");
  await page.keyboard.press("ArrowRight");
  assert.equal(await marked(page), " 01");
  await page.keyboard.press("End");
  await page.keyboard.press("ArrowLeft");
  assert.equal(await marked(page), "[SMill]");
  await page.keyboard.press("ArrowLeft");
  await page.getByText("May carry a key or a code: only its letter is shown.").waitFor();
  assert.doesNotMatch(await page.locator("main").textContent(), /SECRET/);
  const lesson = page.getByRole("button", { name: /^Field K/ });
  await lesson.focus();
  await page.keyboard.press("Home");
  assert.equal(await marked(page), "0A", "the lessons follow the keys as well");

  await page.getByRole("button", { name: "Pause" }).click();
  const before = await rows(page).count();
  await send(server, frame('"NULL"0000L0#4816[]'));
  await page.getByRole("button", { name: "1 newer: show it" }).waitFor();
  assert.equal(await rows(page).count(), before);
  await page.getByRole("button", { name: "1 newer: show it" }).click();
  await rows(page).filter({ hasText: "supervision, no event" }).waitFor();
  for (const colorScheme of ["light", "dark"]) {
    await page.emulateMedia({ colorScheme });
    await assertFits(page, { target: 44 });
    await assertAccessible(page);
    await shot(page, `receiver-desk-${colorScheme}`);
  }
});
