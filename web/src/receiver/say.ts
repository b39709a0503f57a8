// What is said of a frame in one line: in the list of the receiver, and on the Prove pages of a job.
import { t } from "../words/words.svelte";
import type { FrameFault, FrameRow } from "./live.svelte";

/** What became of a frame, in a word or two. */
export function became(row: FrameRow): string {
  switch (row.state) {
    case "answered":
      return t("answered");
    case "silent":
      return t("stored, not answered");
    case "refused":
      return t("refused");
    case "not-stored":
      return t("not stored");
    default:
      return t("not readable");
  }
}

/** What a frame is about, in one line. */
export function about(row: FrameRow): string {
  if (row.fault) return t("{fault}, byte {n}", { fault: short(row.fault), n: row.fault.offset });
  const events = (row.events ?? []).map((one) => {
    const what =
      one.address && one.numberIs !== "none"
        ? t("{event}, {what} {number}", { event: one.words, what: numbered(one.numberIs), number: one.address })
        : one.words;
    return one.qualifier === "restore" ? t("{event}, restored", { event: what }) : what;
  });
  if (events.length > 0) return events.join("; ");
  return row.id?.endsWith("NULL") ? t("supervision, no event") : t("no event");
}

function numbered(what: string): string {
  switch (what) {
    case "zone":
      return t("zone");
    case "user":
      return t("user");
    case "area":
      return t("area");
    case "door":
      return t("door");
    case "line":
      return t("line");
    case "expander":
      return t("expander");
    default:
      return what;
  }
}

/** A fault in a few words, for a list. */
function short(fault: FrameFault): string {
  switch (fault.cause) {
    case "garbage":
      return t("no frame");
    case "truncated":
      return t("cut off");
    case "too long":
      return t("too long");
    case "not hex":
      return t("not four digits 0-9, A-F");
    case "checksum":
      return t("wrong checksum");
    case "length":
      return t("wrong length");
    case "syntax":
      return t("not as DC-09 has it");
    case "unknown id":
      return t("unknown kind");
    case "payload":
      return t("data against its format");
    case "encrypted":
      return t("encrypted, no key here");
    case "time stamp":
      return t("time missing or too far off");
    case "does not decrypt":
      return t("does not decrypt");
    case "not encrypted":
      return t("in clear, must be encrypted");
    default:
      return fault.say;
  }
}

/** A stranger's account that is one slip away from one of ours. */
export function near(row: FrameRow): string {
  if (!row.near) return "";
  const values = { account: row.account ?? "", own: row.near.account };
  return row.near.swapped
    ? t("{account} is {own} with two digits swapped. Look at the account number in the panel.", values)
    : t("{account} is {own} but for one digit. Look at the account number in the panel.", values);
}
