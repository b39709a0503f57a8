// Which key of a keyboard stands for which of the panel's.
import type { RehearsalKeys } from "../../../types.gen";

/** Letter of the keyboard -> key of the panel: keys of one letter, and keys with a name by their first letter that is free. */
export function letterKeys({ others }: RehearsalKeys): Record<string, string> {
  const all = others ?? [];
  const found: Record<string, string> = {};
  for (const key of all) if (key.length === 1) found[key] = key;
  for (const key of all) {
    const letter = key.length > 1 && [...key].find((one) => !found[one]);
    if (letter) found[letter] = key;
  }
  return found;
}

/** The panel's key for a key of the keyboard; undefined when it has none. */
export function keyFor(pressed: string, keys: RehearsalKeys): string | undefined {
  if (/^[0-9]$/.test(pressed)) return pressed;
  const named: Record<string, string> = {
    Enter: keys.accept,
    Backspace: keys.back,
    ArrowUp: keys.up,
    ArrowDown: keys.down,
  };
  return named[pressed] || letterKeys(keys)[pressed.toUpperCase()];
}
