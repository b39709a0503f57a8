import { describe, expect, it } from "vitest";
import { at, editPatch } from "./patch";

describe("editPatch", () => {
  it("leaves an edit without personal parts whole", () => {
    const patch = { zones: { "09": { kind: "smoke", bypass: null } } };
    expect(editPatch(patch)).toEqual({ patch });
  });

  it("seals people and contacts whole", () => {
    expect(editPatch({ people: { a: { name: "Hedda Strand" } }, contacts: null, name: "Larkwater Mill" })).toEqual({
      patch: { name: "Larkwater Mill" },
      private: { people: { a: { name: "Hedda Strand" } }, contacts: null },
    });
  });

  it("seals the address and leaves the rest of the premises open", () => {
    expect(editPatch({ premises: { address: "1 Mill Lane", country: "CA" } })).toEqual({
      patch: { premises: { country: "CA" } },
      private: { premises: { address: "1 Mill Lane" } },
    });
    expect(editPatch({ premises: { address: null } })).toEqual({
      patch: {},
      private: { premises: { address: null } },
    });
  });

  it("keeps the removal of the whole premises and an empty object as they are", () => {
    expect(editPatch({ premises: null })).toEqual({ patch: { premises: null } });
    expect(editPatch({ premises: {} })).toEqual({ patch: { premises: {} } });
  });
});

describe("at", () => {
  it("nests, and deletes by null", () => {
    expect(at(["zones", "09", "label"], "Hall smoke")).toEqual({ zones: { "09": { label: "Hall smoke" } } });
    expect(at(["zones", "09", "code"], undefined)).toEqual({ zones: { "09": { code: null } } });
  });
});
