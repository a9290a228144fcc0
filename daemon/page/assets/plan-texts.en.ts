/** Texts of the view in which a charge is planned and made. */
export const planTexts = {
  noVessel: "The config has no vessel that is charged at home, so there is nothing to plan.",
  vessel: "Vessel",
  form: "What it should do",
  by: "Plan by",
  byDays: "days",
  byGrams: "grams of bicarbonate",
  days: "Days it should last",
  grams: "Sodium bicarbonate, g",
  use: "What the tanks take a day, g of CO2",
  useHint: {
    measured: (use: string) => `Left empty: ${use} a day, as measured from the charge in the vessel.`,
    unknown:
      "Not measured yet. Weigh the vessel a week apart: the grams it lost, divided by 7, are its daily use. Bubbles do not tell.",
  },
  acid: "Citric acid, as the bag says",
  acids: { anhydrous: "anhydrous", monohydrate: "monohydrate" },
  weighedAcids: { "citric-acid-anhydrous": "anhydrous", "citric-acid-monohydrate": "monohydrate" },
  filling: "Put in as",
  fillings: { water: "water", ice: "ice", "water-and-ice": "water and ice" },
  waterMass: "Water, g",
  iceMass: "Ice, g",
  waterHint: "Left empty: a quarter of the vessel.",
  icePiece: "Widest piece of ice, mm",
  hottest: (unit: string) => `Hottest day where the vessel stands, ${unit}`,
  hottestHint: (usual: string) =>
    `Left empty: ${usual}. Take the hottest that may come, heating and sun included.`,
  more: "More",
  room: (unit: string) => `Room, ${unit}`,
  roomHint: (usual: string) => `Left empty: ${usual}`,
  residual: "Liquor of the last charge left in, L",
  residualHint: "Poured out and rinsed: leave it empty.",
  excess: "Acid beyond the exact proportion, %",
  excessHint: "Left empty: 8. More than about 25 is wasted.",
  notANumber: "A number is needed here.",
  working: "Working it out",
  untilThen: "Fill in the form; the plan comes by itself.",
  notPlannable: "This cannot be planned",
  noPressure: {
    heading: "No plan for this vessel",
    why: "A charge is planned only where both the rated pressure and the pressure at which the relief device opens are known. Read them off the plate and the device; never guess them. Then write into the config, in bar gauge:",
  },
  weigh: "Weigh",
  bicarbonate: "Sodium bicarbonate",
  citricAcid: "Citric acid",
  ice: "Ice",
  waterAlone: "Water",
  leftIn: "Liquor left in",
  excessIs: (percent: string) =>
    `The acid is ${percent} beyond the exact proportion: a little more frees gas that would stay behind, far more is wasted.`,
  pressures: "Pressure on the gauge once it has settled",
  pressuresTable: "Pressures with their bounds",
  when: "When",
  expected: "Expected",
  bounds: "95 % bounds",
  outlooks: {
    cold: (temperature: string) => `Now: cold, ${temperature}`,
    room: (temperature: string) => `Warm: the room, ${temperature}`,
    hottest: (temperature: string) => `Hottest day, ${temperature}`,
  },
  allowed: (allowed: string, rating: string) =>
    `The upper bound on the hottest day may be ${allowed}: 0.9 of ${rating}, the lower of rating and relief opening.`,
  boundsAre:
    "Bounds are 95 %: those of the model and of the weighing; the upper one counts every gram of CO2 as set free.",
  scale: (cold: string, room: string, hottest: string, allowed: string) =>
    `Scale of the gauge: cold ${cold}, room ${room}, hottest day at most ${hottest}, allowed ${allowed}`,
  marks: { cold: "now", room: "warm", hottest: "hottest, at most", allowed: "allowed", rating: "rating" },
  gives: "What it gives",
  reaches: (value: string, low: string, high: string) =>
    `${value} of CO2 reach the tanks (95 %: ${low} to ${high})`,
  ofAll: (all: string, kept: string) =>
    `${all} are in the charge; ${kept} stay in the vessel below the working pressure.`,
  lasts: (value: string, low: string, high: string, use: string) =>
    `Lasts ${value} days (95 %: ${low} to ${high}) at ${use} a day`,
  noEnd: "no end",
  noUse: "How many days it lasts is not told: no daily use is known.",
  ready: (value: string, low: string, high: string) => `Ready after about ${value} (${low} to ${high})`,
  notReady: "When it is ready is not told.",
  costs: (total: string, per100g: string | undefined) =>
    per100g === undefined ? `Costs ${total}` : `Costs ${total}, ${per100g} for 100 g that reach the tanks`,
  flow: {
    steady: "Towards the end nobody will notice that the regulator creeps.",
    creeps: (more: string) =>
      `Towards the end up to ${more} more bubbles than at the start: look daily in the last days and turn the needle valve back. Too much CO2 can harm the fish.`,
  },
  cautions: "Take care",
  refused: "No charge is planned",
  largest: "The largest charge that fits",
  largestHot: (pressure: string, temperature: string) =>
    `On the hottest day at most ${pressure}, at ${temperature}.`,
  largestGives: (mass: string, days: string | undefined) =>
    days === undefined ? `${mass} reach the tanks.` : `${mass} reach the tanks, about ${days} days.`,
  takeLargest: "Plan this one",
  planned: (bicarbonate: string, acid: string) => `Plan: ${bicarbonate} bicarbonate, ${acid} acid`,
  refusedShort: "Refused: no charge is planned",
  steps: {
    heading: "Mixing, step by step",
    about:
      "The vessel's own instructions come before these steps, and so do local codes and people licensed for pressure equipment. This page does not see the vessel: what it says is no proof of anything about it.",
    done: (done: number, all: number) => `${done} of ${all} ticked`,
    clear: "Untick all",
    groups: {
      before: "Before the vessel is opened",
      ready: "Getting ready",
      fill: "Filling and closing",
      after: "After closing",
    },
    begin: (vessel: string) => `Begin the refill of ${vessel}: its valves stay closed`,
    began:
      "The valves of this vessel are held closed. The page cannot end that, nor does a charge that is recorded on it. When you are done:",
    shut: "Shut the vessel's outlet by hand.",
    vent: "Let the rest off slowly through the regulator or the valve, as its maker says: outdoors or with the windows open, the line out of the tank. Loosen no fitting while anything is under pressure.",
    zeroGauge: "First sign: the gauge stands at its zero.",
    noHiss: "Second sign: at the open vent nothing hisses any more.",
    twoSigns:
      "Both signs, each for itself: crust can block a gauge or a vent, and a blocked one shows nothing. With one of them alone, or in doubt, leave the vessel shut and ask someone licensed for it.",
    open: "Open slowly, standing aside. No one bends over it, hand and face away from the neck. If anything hisses, stop and wait.",
    inspect:
      "Look inside, at the thread and at the seal. With rust, pits, dents or heat marks it is not charged, but shown to someone licensed for it. A seal that is flat, cut or hard is replaced.",
    soak: "Crystals at the bottom: fill the open vessel with warm water, no hotter than a hand bears, let it stand open, pour out, rinse. Only where its maker allows hotter water: heat-resistant gloves and eye protection, pour slowly, away from the face, and ventilate. Never close it with warm water in it, never heat it.",
    protect: "Gloves and eye protection on. Children and animals elsewhere.",
    air: "In the open air or a well ventilated room, not over a pit, in a cupboard or in a car: CO2 is heavier than air, gives no warning and stops the breath.",
    upright: "Vessel upright and held against falling. Head, seal and tool at hand.",
    dry: "Weigh the dry powders on a dry scale, and keep them apart until they are in the vessel.",
    order:
      "In the order that the vessel's own instructions say. Where they say nothing: both powders dry first, the water last, since gas comes once water meets them (common practice, no source).",
    orderIce:
      "In the order that the vessel's own instructions say. Where they say nothing: both powders dry first, the ice last, and water that goes with it at the very end (common practice, no source). The ice must pass the neck: crush it, never force it.",
    closeWater:
      "Close at once, within seconds: with water the gas comes as soon as they meet, and what escapes is lost. No one bends over it.",
    closeIce:
      "Close at once: little reacts before the ice melts, which gives time for the thread to be set straight, not for a pause. No one bends over it.",
    stand:
      "Stand back. It stays upright, out of the sun, away from heat. Never shake it, never add to it because it reads low.",
    cold: (pressure: string) =>
      `The first reading is that of a cold vessel: about ${pressure} at most, and it goes on rising for hours.`,
    coldIce: (pressure: string) =>
      `The first reading is that of a cold vessel: about ${pressure} at most. With ice a day until the gauge comes to rest is normal.`,
    soap: "Soapy water on every joint: bubbles tell a leak. Loosen and tighten nothing under pressure; let a leaking joint off first.",
    above: (pressure: string) =>
      `If the gauge ever reads more than ${pressure}, something is not as planned: keep people and animals away, let it cool, ventilate, loosen nothing, and ask someone licensed for pressure equipment.`,
    nextTime: "Before it is opened again: vent it, and wait for both signs.",
  },
  record: {
    heading: "Record the charge",
    about:
      "What was really weighed, not what was planned: everything that is told of this charge is reckoned from it.",
    bicarbonate: "Sodium bicarbonate weighed, g",
    acid: (form: string) => `Citric acid ${form} weighed, g`,
    water: { water: "Water, g", ice: "Ice, g", "water-and-ice": "Ice and water together, g" },
    temperature: (unit: string) => `Vessel when it was closed, ${unit}`,
    temperatureHint: {
      water: "About the room, where it stood there.",
      ice: "With ice about its melting point.",
    },
    at: "Closed at",
    atHint: "Left empty: now. Time of the site.",
    note: "Note",
    planned: (amount: string) => `Planned: ${amount}`,
    submit: "Record this charge",
    recording: "Recording",
    missing: "Fill in what was weighed and the temperature at closing.",
    kept: (entry: string, what: string) => `Recorded as entry ${entry}: ${what}`,
    known: (entry: string) => `It was recorded before, as entry ${entry}.`,
    stillHeld: "The valves stay closed until you end the refill at the machine that runs fizzward:",
    next: "How the pressure comes on is shown under Charge.",
    toCharge: "Go to Charge",
    notKept: (reason: string) => `Not recorded: ${reason}`,
  },
} as const;
