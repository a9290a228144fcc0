import { describe, expect, it } from "vitest";
import type { AgedColour } from "../../../../lib/tank/aged-colour.js";
import { colourWitness } from "../../../../lib/tank/colour-witness.js";

type Counting = Extract<AgedColour, { readonly kind: "counts" }>;

/** Its 95 % interval is a factor of two either way. */
const seen = (
  co2_mgPerL: number,
  reach: Counting["evidence"]["reach"] = "about",
  mayHaveRisen = false,
): AgedColour => ({
  kind: "counts",
  mayHaveRisen,
  evidence: {
    method: "drop checker",
    co2_mgPerL,
    ownSigma_ln: Math.LN2 / 1.96,
    probeOffset_lnPerPh: 0,
    probeReading_lnPerPh: 0,
    reach,
  },
});
const figures = { lower_mgPerL: 15, higher_mgPerL: 50 };

describe("a colour as a witness of two figures", () => {
  it.each([
    { colour: seen(20), says: "for the lower figure", because: "10 to 40 holds 15 and excludes 50" },
    { colour: seen(26), says: "says nothing", because: "13 to 52 holds both" },
    { colour: seen(5), says: "says nothing", because: "2.5 to 10 holds neither" },
    { colour: seen(60), says: "against the lower figure", because: "30 to 120 excludes 15" },
    { colour: seen(20, "at most"), says: "for the lower figure", because: "blue bounds from above" },
    { colour: seen(10, "at least"), says: "says nothing", because: "yellow excludes no high figure" },
    { colour: seen(60, "at least"), says: "against the lower figure", because: "yellow excludes a low one" },
    { colour: seen(20, "about", true), says: "says nothing", because: "the tank may have risen since" },
    { colour: { kind: "too old" } as const, says: "says nothing", because: "it was long ago" },
    {
      colour: { kind: "overtaken", moved_ratio: 3 } as const,
      says: "says nothing",
      because: "the tank has moved",
    },
  ])("$says: $because", ({ colour, says }) => {
    expect(colourWitness(colour, figures)).toBe(says);
  });
});
