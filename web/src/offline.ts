/**
 * Registers the service worker, so that the application opens in a basement with no signal.
 * It waits for the page to be complete: what the worker fetches must not delay the first page.
 * In development and outside a secure context (loopback or trusted HTTPS) it does nothing; the
 * pages then work while the server can be reached.
 */
export function keepOffline(): void {
  if (!import.meta.env.PROD || !("serviceWorker" in navigator)) return;
  const register = () =>
    navigator.serviceWorker
      .register("/sw.js", { updateViaCache: "none" })
      .catch((reason: unknown) => console.warn("keeping the pages for offline use:", reason));
  if (document.readyState === "complete") void register();
  else addEventListener("load", register, { once: true });
}
