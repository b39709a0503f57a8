// Lengths and places in words, as they stand beside the drawing and are read out.
import type { Plan, Point } from "../../types";
import { number, t } from "../../words/words.svelte";
import { roomAt } from "./hit";

/** 4.20 m, or 13 ft 9 in. */
export function length(metres: number, imperial: boolean): string {
  if (!imperial) return `${number(metres, 2)} m`;
  const inches = Math.round(Math.abs(metres) / 0.0254);
  const words = [
    inches >= 12 ? `${Math.floor(inches / 12)} ft` : "",
    inches % 12 > 0 || inches < 12 ? `${inches % 12} in` : "",
  ];
  return (metres < 0 && inches > 0 ? "-" : "") + words.filter(Boolean).join(" ");
}

/** The same as it is typed and as the site file has it: with a point, whatever the language. */
export const typed = (metres: number, imperial: boolean) =>
  imperial ? length(metres, true) : String(Math.round(metres * 1000) / 1000);

/** Where a place is: from the lower left corner of what is drawn, and in which room. */
export function place(at: Point, plan: Plan, imperial: boolean): string {
  const room = roomAt(plan, at);
  const where = t("{x} across, {y} up", { x: length(at.X, imperial), y: length(at.Y, imperial) });
  return room ? t("{where}, in {room}", { where, room: room.name }) : where;
}
