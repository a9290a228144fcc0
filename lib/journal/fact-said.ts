import { bar, celsius, grams, litres, said, saidList, type Said, type SaidPart } from "../told/said.js";
import type { JournalFact, PressureAsRead } from "./journal-entry.js";

const degassedHow = {
  "aerated a day": "aerated a day",
  "aerated an hour": "aerated an hour",
  "stood in a glass": "stood in a glass",
  "not known": "degassed in a way not known",
} as const;

/** What a person saw, measured or did, as a line of the journal. */
export function factSaid(fact: JournalFact): Said {
  switch (fact.kind) {
    case "kh test": {
      const give = fact.khUncertainty_dKH === undefined ? "" : ` give or take ${fact.khUncertainty_dKH}`;
      return said`KH test: ${fact.kh_dKH} dKH${give}`;
    }
    case "degassed pH": {
      const room = fact.roomCo2_ppm === undefined ? "" : `, room at ${fact.roomCo2_ppm} ppm CO2`;
      return said`degassed pH: ${fact.pH}, ${degassedHow[fact.how]}${room}${atTemperature(fact.temperature_degC)}`;
    }
    case "drop checker":
      return said`drop checker: ${fact.colour}`;
    case "calibration": {
      const buffers = fact.buffers.map(
        ({ buffer, shown, temperature_degC }) =>
          said`buffer ${buffer} showed ${shown}${atTemperature(temperature_degC)}`,
      );
      return said`calibration: ${saidList(buffers, "; ")}`;
    }
    case "water change":
      return said`water change: ${litres(fact.changed_L)}`;
    case "bubble count":
      return said`bubble count: ${fact.bubbles_perMin} a minute`;
    case "gauge reading":
      return said`gauge: ${asRead(fact.asRead, fact.pressureGauge_bar)}${atTemperature(fact.temperature_degC)}`;
    case "weighing":
      return said`weighing: ${grams(fact.vesselMass_g)}`;
    case "charge closed": {
      const acid = fact.acid.kind === "citric-acid-monohydrate" ? " monohydrate" : "";
      const leftIn =
        fact.residualLiquor_L === undefined
          ? ""
          : said`, ${litres(fact.residualLiquor_L)} of the last liquor left in`;
      const planned =
        fact.plannedBicarbonate_g === undefined || fact.plannedAcid_g === undefined
          ? ""
          : said`; planned ${grams(fact.plannedBicarbonate_g)} and ${grams(fact.plannedAcid_g)}`;
      return said`charge closed: ${grams(fact.sodiumBicarbonate_g)} sodium bicarbonate, ${grams(fact.acid.mass_g)} citric acid${acid}, ${fact.water_kg} kg ${fact.closedWith}${leftIn}${atTemperature(fact.sealedAt_degC)}${planned}`;
    }
    case "upkeep done":
      return said`upkeep done: ${fact.task}`;
    case "regulator set":
      return said`regulator set: ${asRead(fact.asRead, fact.outletGauge_bar)}`;
  }
}

function asRead(read: PressureAsRead, gauge_bar: number): SaidPart {
  return read.unit === "bar" ? bar(read.value) : { kind: "pressure as read", gauge_bar, asRead: read };
}

function atTemperature(temperature_degC: number | undefined): Said {
  return temperature_degC === undefined ? [] : said` at ${celsius(temperature_degC)}`;
}
