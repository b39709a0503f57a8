// What goes with a device that is taken out.
import type { Patch, Site } from "../../types";

const draw = { device: null, current: null, power: null, least: null };

/** The circuits along which a device lies, by id, with the parts that name it. */
function along(site: Site | null | undefined, device: string): [circuit: string, parts: string[]][] {
  return Object.entries(site?.circuits ?? {})
    .map(([id, circuit]): [string, string[]] => [
      id,
      Object.entries(circuit.parts ?? {}).flatMap(([part, one]) => (one.device === device ? [part] : [])),
    ])
    .filter(([, parts]) => parts.length > 0);
}

/** Names of the circuits along which a device lies. */
export const circuitsOf = (site: Site | null | undefined, device: string): string[] =>
  along(site, device).map(([id]) => site?.circuits?.[id]?.name || id);

/** The patch that takes a device out. The cable goes on: where it hung stays a joint that draws nothing. */
export function outOf(site: Site | null | undefined, device: string): Patch {
  const circuits = along(site, device).map(([id, parts]) => [
    id,
    { parts: Object.fromEntries(parts.map((part) => [part, draw])) },
  ]);
  return { devices: { [device]: null }, ...(circuits.length > 0 && { circuits: Object.fromEntries(circuits) }) };
}
