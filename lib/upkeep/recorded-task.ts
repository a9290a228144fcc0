/** What a person records as done, each about one kind of subject. */
export const recordedTasks = [
  "sediment soak",
  "O-ring",
  "vessel inspection",
  "check valve",
  "diffuser cleaning",
  "drop-checker fluid",
] as const;
export type RecordedTask = (typeof recordedTasks)[number];
