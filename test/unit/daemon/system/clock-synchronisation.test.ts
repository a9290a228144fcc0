import { describe, expect, it } from "vitest";
import {
  createSynchronisationProbe,
  systemSynchronisation,
} from "../../../../daemon/system/clock-synchronisation.js";

// Paths: manual page systemd-timesyncd.service(8), section "Files".
const folder = "/run/systemd/timesync";
const sign = "/run/systemd/timesync/synchronized";

describe("what the operating system says about its clock", () => {
  it.each([
    { files: [], answer: "unknown", because: "no time service that we know runs" },
    {
      files: [folder],
      answer: "not synchronised",
      because: "the service runs and has not set the clock yet",
    },
    { files: [folder, sign], answer: "synchronised", because: "the service has set the clock" },
  ])("is $answer where $because", ({ files, answer }) => {
    const probe = createSynchronisationProbe(
      () => 0,
      (path) => files.includes(path),
    );
    expect(probe()).toBe(answer);
  });

  it("is asked again after a minute and not before", () => {
    const files = [folder];
    let now_ms = 0;
    const probe = createSynchronisationProbe(
      () => now_ms,
      (path) => files.includes(path),
    );
    probe();
    files.push(sign);
    now_ms = 60_000;
    expect(probe()).toBe("not synchronised");
    now_ms = 60_001;
    expect(probe()).toBe("synchronised");
  });
});

describe("what the system says when it is asked once", () => {
  it.each<{ because: string; files: readonly string[]; says: string | undefined; answer: string }>([
    {
      because: "the time service has set the clock",
      files: ["/run/systemd/timesync/synchronized"],
      says: "no",
      answer: "synchronised",
    },
    {
      because: "the time service has not",
      files: ["/run/systemd/timesync"],
      says: "yes",
      answer: "not synchronised",
    },
    { because: "another one tells the kernel", files: [], says: "yes\n", answer: "synchronised" },
    { because: "the kernel was told nothing", files: [], says: "no\n", answer: "not synchronised" },
    { because: "nobody can be asked", files: [], says: undefined, answer: "unknown" },
  ])("is $answer where $because", async ({ files, says, answer }) => {
    const exists = (path: string): boolean => files.includes(path);
    expect(await systemSynchronisation(exists, () => Promise.resolve(says))).toBe(answer);
  });
});
