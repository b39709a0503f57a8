// Where was I: the place in the work and what stood half-typed, kept through a dead phone. Offered, never forced.
import { address, route } from "./router.svelte";
import type { StageID } from "./types";

export interface Place {
  job: string;
  stage: StageID;
  open: string[];
  /** What the open sheet was called, in the words of its page. */
  sheet: string;
  scroll: number;
  /** Milliseconds since 1970. */
  at: number;
}

/** Text that was in a field when its page died. */
export interface Typed {
  key: string;
  path: string;
  label: string;
  text: string;
  at: number;
}

const placeSlot = "proofbell.place";
const typedSlot = "proofbell.typed.";
const fresh = 30 * 86_400_000;

/** What the page before this one left behind. */
export const before = $state({ place: readPlace(), typed: readTyped() });

function readPlace(): Place | undefined {
  try {
    const place = JSON.parse(localStorage.getItem(placeSlot) ?? "null") as Place | null;
    return place && Date.now() - place.at < fresh ? place : undefined;
  } catch {
    return undefined; // written by another version, or by hand
  }
}

/** Reads the place anew: the list of jobs offers the one that was left last. */
export function readPlaceAgain(): void {
  before.place = readPlace();
}

function readTyped(): Typed[] {
  const found: Typed[] = [];
  for (const key of Object.keys(localStorage).filter((name) => name.startsWith(typedSlot))) {
    try {
      const typed = JSON.parse(localStorage.getItem(key) ?? "") as Omit<Typed, "key">;
      if (Date.now() - typed.at < fresh) found.push({ ...typed, key });
      else localStorage.removeItem(key);
    } catch {
      localStorage.removeItem(key);
    }
  }
  return found.sort((a, b) => b.at - a.at);
}

/** A full device keeps no place: what was kept before stays. */
function write(key: string, value: unknown): void {
  try {
    localStorage.setItem(key, JSON.stringify(value));
  } catch {
    // The field itself still holds the text, and the next act says that the device is full.
  }
}

/** What scrolls: the page on a phone, the work in the middle on a laptop. */
const scroller = () => {
  const main = document.querySelector("main");
  return main && main.scrollHeight > main.clientHeight + 1 && getComputedStyle(main).overflowY === "auto"
    ? main
    : document.scrollingElement;
};

function notePlace(): void {
  if (!route.job || route.unknown) return;
  const title = document.querySelector("[role=dialog] h2")?.textContent ?? "";
  const { job, stage, open } = route;
  const place: Place = {
    job,
    stage,
    open: [...open],
    sheet: open.length > 0 ? title.trim() : "",
    scroll: Math.round(scroller()?.scrollTop ?? 0),
    at: Date.now(),
  };
  write(placeSlot, place);
}

/** Goes on where the work was left, at the same height of the page; `path` is where something stood half-typed. */
export function goBackTo(place: Place, go: (to: string) => void, path?: string): void {
  before.place = undefined;
  go(path ?? address(place.job, place.stage, ...place.open));
  let tries = 0;
  // The page grows as the engine answers: it is scrolled when it is long enough.
  const scroll = () => {
    const element = scroller();
    if (element && element.scrollHeight - element.clientHeight >= place.scroll) element.scrollTop = place.scroll;
    else if (++tries < 120) requestAnimationFrame(scroll);
  };
  if (place.scroll > 0) requestAnimationFrame(scroll);
}

type Field = HTMLInputElement | HTMLTextAreaElement;

const texts = new Set(["text", "search", "tel", "number", "email", "url"]);

function field(target: EventTarget | null): Field | undefined {
  if (target instanceof HTMLTextAreaElement) return target;
  // Codes and passcodes are never kept: their fields are of type password or say autocomplete="one-time-code".
  if (target instanceof HTMLInputElement && texts.has(target.type) && target.autocomplete !== "one-time-code")
    return target;
  return undefined;
}

const label = (element: Field) =>
  (element.labels?.[0]?.textContent ?? element.getAttribute("aria-label") ?? element.placeholder).trim();

const live = new Map<string, Field>();

/** Fields that are gone from the page were saved or given up by a person: nothing is offered of them. */
function sweep(): void {
  for (const [key, element] of live) {
    if (element.isConnected && element.value !== "") continue;
    live.delete(key);
    localStorage.removeItem(key);
  }
}

/** The field on the page that a text belongs to, if it is there. */
export function fieldOf(typed: Typed): Field | undefined {
  if (typed.path !== location.pathname) return undefined;
  return [...document.querySelectorAll<Field>("input, textarea")].find(
    (element) => field(element) && element.checkVisibility() && label(element) === typed.label,
  );
}

/** Puts a text back into its field, as if it had been typed. */
export function putBack(typed: Typed): void {
  const element = fieldOf(typed);
  if (!element) return;
  forget(typed);
  element.focus();
  element.value = typed.text;
  element.dispatchEvent(new Event("input", { bubbles: true }));
}

/** A person does not want the text any more, or it stands there already. */
export function forget(typed: Typed): void {
  before.typed = before.typed.filter(({ key }) => key !== typed.key);
  if (!live.has(typed.key)) localStorage.removeItem(typed.key);
}

/** A job was erased: what stood half-typed in it and where one was in it go from this device too. */
export function forgetTyped(job: string): void {
  const within = `/job/${encodeURIComponent(job)}/`;
  before.typed = before.typed.filter(({ path }) => !path.startsWith(within));
  if (before.place?.job === job) before.place = undefined;
  if (readPlace()?.job === job) localStorage.removeItem(placeSlot);
  localStorage.removeItem(`proofbell.rehearsal.${job}`);
  for (const name of Object.keys(localStorage))
    if (name.startsWith(`${typedSlot}${within}`)) localStorage.removeItem(name);
}

/** Begins to note the place and what is typed. Called once. */
export function keepPlace(): void {
  let timer: ReturnType<typeof setTimeout> | undefined;
  const soon = () => {
    clearTimeout(timer);
    timer = setTimeout(() => {
      sweep();
      notePlace();
    }, 300);
  };
  document.addEventListener("input", ({ target }) => {
    const element = field(target);
    const name = element && label(element);
    if (!element || !name) return;
    const key = `${typedSlot}${location.pathname}|${name}`;
    live.set(key, element);
    if (element.value === "") localStorage.removeItem(key);
    else write(key, { path: location.pathname, label: name, text: element.value, at: Date.now() });
    soon();
  });
  for (const name of ["click", "keyup", "focusout", "scroll", "submit"])
    document.addEventListener(name, soon, { capture: true, passive: true });
  addEventListener("popstate", soon);
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) return;
    sweep();
    notePlace();
  });
}
