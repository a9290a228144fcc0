import type { InterlockRuleId } from "./interlock.js";
import type { TripCause } from "./trip.js";

/** What closes beside the interlock: the daemon's own doing. */
export const closingsBeside = ["daemon ends", "relay being tried", "control pass failed"] as const;

/** "tripped" stands for every cause of a trip, each of which has a row of its own. */
export type RowId = Exclude<InterlockRuleId, "tripped"> | TripCause | (typeof closingsBeside)[number];

/** One rule by which gas is held off. Every action but a trip's ends with its condition. */
export interface InterlockRow {
  readonly condition: string;
  /** Beyond that the valve is closed and stays closed. */
  readonly action: string;
  /** Until when it stands though its condition may be gone. */
  readonly latch: string;
  /** Who may let gas flow again. Never a message: design rule of the interlock. */
  readonly released: string;
  /** A test that fails where this does not hold. */
  readonly test: string;
}

const none = "none";
const itself = "nobody; it ends with its condition";
const latched = "until re-armed, over restarts";
const person = "a person at the daemon's own socket (`rearm`), with the cause gone";
const critical = "critical alarm";
const high = "alarm of high priority";
const unit = (file: string): string => `test/unit/lib/control/${file}.test.ts`;
const scenario = (file: string): string => `test/scenarios/${file}.test.ts`;

/** Every rule that can hold gas off, the causes of trips among them. A rule without a row does not compile. */
export const interlockRows: Readonly<Record<RowId, InterlockRow>> = {
  "clock not plausible": {
    condition: "the machine's clock jumped, is not synchronised, or lies before what was known",
    action: high,
    latch: none,
    released: "nobody; or a person who says that it is right (`accept-clock`)",
    test: scenario("control-day"),
  },
  "broker lost": {
    condition: "no connection to the broker",
    action: `${high} after 10 s; the Last Will and the relay's own auto-off close`,
    latch: none,
    released: itself,
    test: scenario("control-day"),
  },
  "dead-man not armed": {
    condition: "the broker does not hold the closing command of each relay of the valve as a Last Will",
    action: `${high} after 10 s`,
    latch: none,
    released: itself,
    test: scenario("control-day"),
  },
  "store failing": {
    condition: "the store has failed for 60 s",
    action: `${high} at once`,
    latch: none,
    released: itself,
    test: scenario("control-day"),
  },
  "relay not commissioned": {
    condition: "nobody has tried the relay's auto-off and power-on state as it is now configured",
    action: "shown in the status",
    latch: "until tried",
    released: "a person beside the relay (`commission`); or the config, in so many words",
    test: unit("interlock"),
  },
  "sensor not heard yet": {
    condition:
      "a guard, a tank's thermometer or a sensor of a room's air has not spoken since the start, or since the config named it anew; a value that the broker held back does not count",
    action: "shown in the status; no alarm until it counts as silent",
    latch: "until it speaks, at most its `maximumAge_s` from when it can be heard",
    released: itself,
    test: scenario("first-word"),
  },
  "guard sensor silent": {
    condition:
      "a guard sensor is older than its `maximumAge_s`, stuck, on a topic with two senders, has said three times in a row what cannot be, or has not spoken in that time since the start",
    action: high,
    latch: none,
    released: itself,
    test: unit("interlock"),
  },
  "relay not obeying": {
    condition: "a relay does not confirm a command, drops by itself, or is switched on by something else",
    action: "critical alarm where gas may flow, else of high priority",
    latch: "until it obeys",
    released: itself,
    test: unit("relay-driver"),
  },
  "temperature above the limit": {
    condition: "the tank is above `temperatureHigh_degC`",
    action: high,
    latch: "until 0.5 K below, and while the thermometer is silent",
    released: itself,
    test: unit("interlock"),
  },
  "tank not judged": {
    condition: "nothing can be said of a tank, for a fault of the program or of what it kept",
    action: high,
    latch: none,
    released: itself,
    test: unit("interlock"),
  },
  "CO2 in the room": {
    condition:
      "5000 ppm or more in the air of the vessel's or a tank's room (8-hour limit of Directive 2006/15/EC and of 29 CFR 1910.1000)",
    action: high,
    latch: "until 4500 ppm, and while the sensor is silent",
    released: itself,
    test: unit("room-air"),
  },
  "maintenance lock": {
    condition: "a person has locked the vessel or the valve (`maintenance begin`)",
    action: "shown permanently; alarm of low priority after 12 h",
    latch: "until lifted, over restarts",
    released: "a person at the daemon's own socket (`maintenance end`)",
    test: scenario("vessel-and-room"),
  },
  "refill in progress": {
    condition: "a person refills the vessel (`refill begin`)",
    action: "alarms of an open vessel are suppressed by design; alarm of low priority after 4 h",
    latch: "until ended, over restarts",
    released: "the recorded charge; or a person at the daemon's own socket (`refill end`)",
    test: scenario("vessel-and-room"),
  },
  "leak test": {
    condition: "the vessel is held closed to find a leak",
    action: "shown in the status, with its end",
    latch: "until its end, over restarts",
    released: "a person at the daemon's own socket; or its end",
    test: scenario("leak-test-day"),
  },
  "end of charge": {
    condition: "the vessel's pressure is so low that the regulator may not hold its outlet (`endOfCharge`)",
    action: high,
    latch: "until a fresh charge",
    released:
      "a fresh charge whose gauge has come up; where no sensor reads it, a charge or a gauge entered at the daemon's own socket; or a person's `override open` given after it",
    test: scenario("end-of-charge"),
  },
  "rests after a closing": {
    condition:
      "less than 60 s since an open valve was closed by force, or the third time within that time from afar",
    action: "shown in the status",
    latch: none,
    released: "nobody; or a person's `override open` at the daemon's own socket, given after it",
    test: unit("control-step"),
  },
  "CO2 above the close limit": {
    condition: "the upper end of the 80 % interval of a tank's CO2 is above `co2Close_mgPerL`",
    action: critical,
    latch: latched,
    released: person,
    test: unit("interlock"),
  },
  "CO2 rises too fast": {
    condition: "a tank's CO2 is above its target and surely rises faster than `co2Rise_mgPerLPer30Min`",
    action: critical,
    latch: latched,
    released: person,
    test: unit("interlock"),
  },
  "pH below the floor": {
    condition: "a tank's pH is below `pHFloor`",
    action: critical,
    latch: latched,
    released: person,
    test: unit("interlock"),
  },
  "open for too long": {
    condition: "gas has been on longer than `longestOpen_min` without a break that is known of",
    action: critical,
    latch: latched,
    released: person,
    test: unit("interlock"),
  },
  "gas did not stop": {
    condition: "at night a tank surely does not lose its CO2 though every relay reports off",
    action: `${critical}: shut the vessel by hand, aerate, watch the fish`,
    latch: latched,
    released: person,
    test: scenario("learnt-tank"),
  },
  "pressure above the rating": {
    condition:
      "the vessel's pressure, with its gauge's error, is above the lower of rated and relief pressure",
    action: `${critical}: keep away, remove heat from afar, ventilate; the daemon never vents`,
    latch: `${latched}; not while its pressure is not known`,
    released: person,
    test: unit("vessel-rating"),
  },
  "CO2 in the room from 15000 ppm": {
    condition: "15000 ppm or more in the air of a room (15-minute limit of EH40/2005)",
    action: `${critical}: ventilate, leave the room`,
    latch: `${latched}; not above 4500 ppm, nor while the sensor is silent`,
    released: person,
    test: unit("room-air"),
  },
  "CO2 in the room from 30000 ppm": {
    condition:
      "30000 ppm or more in the air of a room (15-minute limit of NIOSH; 40000 ppm is dangerous to life)",
    action: `${critical}: leave the room at once, do not go back`,
    latch: `${latched}; not above 4500 ppm, nor while the sensor is silent`,
    released: person,
    test: unit("room-air"),
  },
  "what was known before is lost": {
    condition: "the stored state is damaged or cannot be read, so that earlier trips are not known",
    action: critical,
    latch: latched,
    released: person,
    test: "test/unit/daemon/control-snapshot.test.ts",
  },
  "daemon ends": {
    condition: "the daemon is told to end",
    action: "waits until each relay confirms off",
    latch: none,
    released: "the next start",
    test: scenario("control-day"),
  },
  "relay being tried": {
    condition:
      "a person tries the relay (`commission`), the vessel shut by hand, or hears it click (`inspect`), inside the window and while no other rule holds gas off",
    action: "only the trial switches it",
    latch: none,
    released: "the end of the trial",
    test: scenario("vessel-and-room"),
  },
  "control pass failed": {
    condition: "a pass of the control cycle ends with an exception",
    action: `${critical}; every relay is told off, the dead-man is not kept alive`,
    latch: none,
    released: itself,
    test: scenario("control-day"),
  },
};
