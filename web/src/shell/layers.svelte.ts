// What lies over the stage. The on-test banner stays above sheets, so sheets are not modal to the browser: the page
// below them is made inert here instead.
import { untrack } from "svelte";
import type { Attachment } from "svelte/attachments";

/** How many sheets are open. The stage is inert while there is one. */
export const layers = $state({ sheets: 0, real: false });

const selector = "a[href], button:not(:disabled), input:not(:disabled), select, textarea, [tabindex='0']";

/** Moves the element to the layer above the stage, takes the focus there, and gives it back afterwards. */
export const sheet: Attachment<HTMLElement> = (element) => {
  const before = document.activeElement;
  document.getElementById("over")?.append(element);
  // Counted without being watched: an attachment that changed what it reads would run for ever.
  untrack(() => {
    layers.sheets += 1;
  });
  const first =
    element.querySelector<HTMLElement>("[data-first]") ?? element.querySelector<HTMLElement>("h2[tabindex]");
  (first ?? element.querySelector<HTMLElement>(selector))?.focus({ preventScroll: true });
  return () => {
    layers.sheets -= 1;
    element.remove();
    // The stage is inert until the next update of the page: focus would be refused before it. Who has moved on keeps it.
    setTimeout(() => {
      if (before instanceof HTMLElement && before.isConnected && document.activeElement === document.body)
        before.focus({ preventScroll: true });
    });
  };
};
