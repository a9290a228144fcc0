/** What the keeper of the invented home has written down on the morning on which the demo begins. */
export const demoEntries: readonly Readonly<Record<string, unknown>>[] = [
  {
    kind: "calibration",
    sensor: "loach-ph",
    buffers: [
      { buffer: "7.00", shown: 7.08, temperature_degC: 25 },
      { buffer: "4.01", shown: 4.11, temperature_degC: 25 },
    ],
  },
  {
    kind: "calibration",
    sensor: "shrimp-ph",
    buffers: [
      { buffer: "7.00", shown: 7.0, temperature_degC: 25 },
      { buffer: "4.01", shown: 4.01, temperature_degC: 25 },
    ],
  },
  { kind: "kh test", tank: "loach", kh_dKH: 4 },
];
