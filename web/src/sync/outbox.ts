// The postman: one per browser, whatever the number of tabs, and for all jobs, open or not.
import { Problem } from "../problem";
import { ask } from "./api";
import { pause, type Result, sendAll } from "./send";
import { store } from "./store";

const news = new BroadcastChannel("proofbell-outbox");
const listeners = new Set<(job: string) => void>();

/** Calls back whenever the outbox of a job changed, in this tab or in another. Returns how to stop. */
export function onOutbox(listener: (job: string) => void): () => void {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

news.onmessage = ({ data }: MessageEvent<string>) => {
  for (const listener of listeners) listener(data);
};

/** Says that the outbox of a job changed. */
export function outboxChanged(job: string): void {
  news.postMessage(job);
  for (const listener of listeners) listener(job);
}

/** Runs `work` while no other tab runs it. Without locks (an address that is not a trusted origin) it just runs. */
export async function alone<T>(name: string, work: () => Promise<T>, signal?: AbortSignal): Promise<T> {
  if (!("locks" in navigator)) return work();
  return navigator.locks.request(name, signal ? { signal } : {}, work);
}

let tries = 0;
let running = false;
let again = false;
let timer: ReturnType<typeof setTimeout> | undefined;

/** Sends what waits, now, and goes on trying until nothing waits. */
export function sendSoon(): void {
  clearTimeout(timer);
  if (running) {
    again = true;
    return;
  }
  void send();
}

async function send(): Promise<void> {
  running = true;
  again = false;
  try {
    const touched = await alone("proofbell-send", () =>
      sendAll({
        unsent: () => store.unsent(),
        mark: (n, state, problem) => store.mark(n, state, problem),
        post: async (job, contents) => {
          const kept = await store.job(job);
          if (!kept?.fresh)
            return (await ask<{ results: Result[] }>("POST", `/api/jobs/${job}/entries`, { contents })).results;
          // Begun here: the server takes it over, once, whatever is sent twice.
          const { key } = kept;
          const { results } = await ask<{ results: Result[] }>("PUT", `/api/jobs/${job}`, { key, contents });
          await store.keepJob({ job, fresh: false });
          return results;
        },
        unsentBlobs: () => store.unsentBlobs(),
        markBlob: (address, state, problem) => store.markBlob(address, state, problem),
        putBlob: ({ job, address, sealed }) =>
          ask("PUT", `/api/jobs/${job}/blobs/${address}`, new Blob([sealed]), "application/octet-stream"),
      }),
    );
    tries = 0;
    for (const job of touched) outboxChanged(job);
  } catch (reason) {
    tries += 1;
    if (Problem.of(reason).code !== "unreachable") console.warn("sending the outbox:", reason);
    timer = setTimeout(sendSoon, pause(tries) * (0.8 + 0.4 * Math.random()));
  } finally {
    running = false;
  }
  if (again) sendSoon();
}

/** Starts the postman: at once, and whenever the signal comes back. */
export function startSending(): void {
  addEventListener("online", sendSoon);
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) sendSoon();
  });
  sendSoon();
}
