// The names under which the pages use what engine and server answer. The shapes are generated from the Go types.
export type * from "./types.gen";
export type {
  DrawingRoom as PlanRoom,
  Event as SignalEvent,
  Leaf as PlanLeaf,
  Mark as PlanMark,
  Picture as WorkedPicture,
  SchedulePlan as Proposal,
} from "./types.gen";

export type StageID = "survey" | "schedule" | "key" | "prove" | "hand" | "look";

/** An RFC 7396 merge patch: null deletes. */
export type Patch = { [member: string]: unknown };
