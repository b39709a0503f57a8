// Where one was on the keying sheet, kept on this device over any break.
const name = (job: string) => `proofbell.keying.${job}`;

/** The address within the stage: ["zone", "09", "4"]. */
export type Place = [kind: string, zone: string, card: string];

export function kept(job: string): Place | undefined {
  const [kind, zone, card] = (localStorage.getItem(name(job)) ?? "").split("/");
  return kind && zone && card ? [kind, zone, card] : undefined;
}

export function keep(job: string, place: Place | undefined): void {
  if (place) localStorage.setItem(name(job), place.join("/"));
  else localStorage.removeItem(name(job));
}
