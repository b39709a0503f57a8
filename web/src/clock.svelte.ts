// One clock for the whole page, so that every countdown on it changes at the same moment.

/** Milliseconds since 1970 on this device, to the second. */
export const clock = $state({ now: Date.now() });

function tick(): void {
  clock.now = Date.now();
  setTimeout(tick, 1000 - (clock.now % 1000));
}
tick();
// A phone that slept shows the right time at once, not a second later.
document.addEventListener("visibilitychange", () => {
  if (!document.hidden) clock.now = Date.now();
});
