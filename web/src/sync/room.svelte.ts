// The room that this device gives: whether it is full, whether the browser may clear it, and whether it did.
import { Problem } from "../problem";
import { t } from "../words/words.svelte";

/** What the browser cleared: how many jobs were here, and acts that nobody else has. */
export interface Cleared {
  jobs: number;
  waiting: number;
  since: string;
}

export const room = $state({
  /** Something could not be kept because this device is full. */
  full: false,
  /** What was kept here and is gone. */
  cleared: undefined as Cleared | undefined,
});

/** An error of the browser's store, in words. Anything else as it is. */
export function inWords(reason: unknown): unknown {
  const name = reason instanceof DOMException ? reason.name : "";
  if (name === "QuotaExceededError") {
    room.full = true;
    return new Problem(
      "device-full",
      t("This device is full: what you just did was not kept."),
      t("Free some room on it, then do it again. What was kept before is unharmed."),
    );
  }
  if (name === "VersionError")
    return new Problem(
      "device-store",
      t("Another page here is of a newer version than this one."),
      t("Reload this page. What was kept before is unharmed."),
    );
  if (["UnknownError", "InvalidStateError", "DataError", "NotReadableError"].includes(name))
    return new Problem(
      "device-store",
      t("This browser can not open what it keeps here."),
      t("Close other pages of Proofbell and open this one again. What was sent before is on the server."),
    );
  return reason;
}

/** Room in the browser's own store, in bytes; undefined where the browser does not tell. */
export async function measured(): Promise<{ used: number; all: number; lasting: boolean } | undefined> {
  if (!navigator.storage?.estimate) return undefined;
  const { usage = 0, quota = 0 } = await navigator.storage.estimate();
  return { used: usage, all: quota, lasting: (await navigator.storage.persisted?.()) ?? false };
}

let asked = false;

/** Asks the browser once not to clear this store by itself: called when there is something to lose. */
export function askToLast(): void {
  if (asked) return;
  asked = true;
  void navigator.storage?.persist?.().catch(() => false);
}

// A cookie outlives a store that the browser clears. It holds counts, never names: jobs, acts that wait, since when.
const cookie = "proofbell-kept";
const year = 31_536_000;

/** Notes how much is kept here, so that its loss is noticed. */
export function noteKept(jobs: number, waiting: number): void {
  if (typeof document === "undefined") return;
  const secure = location.protocol === "https:" ? "; Secure" : "";
  const value = `${jobs}.${waiting}.${Math.floor(Date.now() / 1000)}`;
  // The Cookie Store API is absent in some browsers that technicians carry.
  // biome-ignore lint/suspicious/noDocumentCookie: see above
  document.cookie = `${cookie}=${jobs > 0 ? value : ""}; Path=/; SameSite=Strict; Max-Age=${jobs > 0 ? year : 0}${secure}`;
}

/** Compares the note with what is there: `jobs` kept now. */
export function noticeLoss(jobs: number): void {
  const found = document.cookie.match(/(?:^|; )proofbell-kept=(\d+)\.(\d+)\.(\d+)/);
  if (!found || jobs > 0) return;
  const [, before, waiting, since] = found;
  if (Number(before) === 0) return;
  room.cleared = {
    jobs: Number(before),
    waiting: Number(waiting),
    since: new Date(Number(since) * 1000).toISOString(),
  };
}

/** A person has read of the loss. */
export function lossSeen(): void {
  room.cleared = undefined;
  noteKept(0, 0);
}
