// The application on this device: kept whole by the service worker, renewed when the technician says so.
import { settled } from "./sync/acts";

/** What is shown of it. */
export const offline = $state({
  /** A newer version lies ready. It is used when somebody says so, or when the last page here is closed. */
  newer: false,
  /** Whether the pages open with no signal: not yet known, kept, or not kept because there was no room for them. */
  kept: "unknown" as "unknown" | "kept" | "not",
});

let registration: ServiceWorkerRegistration | undefined;
let wanted = false;

/**
 * Registers the service worker, so that the application opens in a basement with no signal.
 * It waits for the page to be complete: what the worker fetches must not delay the first page.
 * In development and outside a secure context (loopback or trusted HTTPS) it does nothing; the
 * pages then work while the server can be reached.
 */
export function keepOffline(): void {
  if (!import.meta.env.PROD || !("serviceWorker" in navigator)) return;
  if (document.readyState === "complete") void register();
  else addEventListener("load", () => void register(), { once: true });
}

async function register(): Promise<void> {
  const workers = navigator.serviceWorker;
  let held = workers.controller !== null;
  workers.addEventListener("controllerchange", () => {
    // The first worker takes the page over as it is; a later one belongs to another version than this page.
    if (wanted) location.reload();
    else if (held) offline.newer = true;
    held = true;
    offline.kept = "kept";
  });
  if (held) offline.kept = "kept";
  try {
    registration = await workers.register("/sw.js", { updateViaCache: "none" });
  } catch (reason) {
    console.warn("keeping the pages for offline use:", reason);
    if (offline.kept === "unknown") offline.kept = "not";
    return;
  }
  if (!registration) return; // workers are blocked here, by a setting or a test
  const watch = () => {
    const { installing, waiting } = registration ?? {};
    if (waiting && workers.controller) offline.newer = true;
    installing?.addEventListener("statechange", () => {
      if (installing.state === "installed" && workers.controller) offline.newer = true;
      // What it fetched did not fit, or the signal went away meanwhile. The next opening tries again.
      if (installing.state === "redundant" && !registration?.active) offline.kept = "not";
    });
  };
  watch();
  registration.addEventListener("updatefound", watch);
  // A page that was still loading when the worker began its work was not taken over by it: it asks.
  const { active } = await workers.ready;
  if (!workers.controller) active?.postMessage("take-over");
  let asked = Date.now();
  const look = () => {
    if (document.hidden || Date.now() - asked < 600_000) return;
    asked = Date.now();
    registration?.update().catch(() => undefined); // no signal: the next look
  };
  addEventListener("online", look);
  document.addEventListener("visibilitychange", look);
}

/** Goes over to the newer version: what stands in a field is kept first. */
export async function useNewer(): Promise<void> {
  if (document.activeElement instanceof HTMLElement) document.activeElement.blur();
  await settled();
  wanted = true;
  if (registration?.waiting) registration.waiting.postMessage("use-new-version");
  else location.reload();
}
