// Sheets of the sound and radio pages: the address says what is open, and Back closes it.
import { address, go, route } from "../../../router.svelte";

export type Page = "sound" | "radio";

export const show = (page: Page, ...what: string[]) =>
  go(address(route.job, "survey", page, ...what), route.open.length > 1);

export function close(page: Page): void {
  if ((history.state as { inside?: boolean } | null)?.inside) history.back();
  else go(address(route.job, "survey", page), true);
}
