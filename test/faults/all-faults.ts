import { alertFaults } from "./alert-faults.js";
import { brokerFaults } from "./broker-faults.js";
import { clockFaults } from "./clock-faults.js";
import type { Fault } from "./fault.js";
import { hostileFaults } from "./hostile-faults.js";
import { networkFaults } from "./network-faults.js";
import { processFaults } from "./process-faults.js";
import { relayFaults } from "./relay-faults.js";
import { sensorFaults } from "./sensor-faults.js";
import { storeFaults } from "./store-faults.js";

/** Every fault of the suite by its group, in the order of the page. */
export const faultGroups: Readonly<Record<string, readonly Fault[]>> = {
  "The daemon and its dead-man process": processFaults,
  "The network": networkFaults,
  "The broker": brokerFaults,
  "The relay and the valve": relayFaults,
  "The sensors": sensorFaults,
  "The clock": clockFaults,
  "The disk and the database": storeFaults,
  "Hostile messages": hostileFaults,
  "Alerts and alarms": alertFaults,
};
