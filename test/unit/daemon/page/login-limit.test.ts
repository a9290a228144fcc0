import { describe, expect, it } from "vitest";
import { createLoginLimit } from "../../../../daemon/page/login-limit.js";
import { createSessions } from "../../../../daemon/page/sessions.js";

describe("tries of the token", () => {
  it("cost an address more and more time, and are forgiven after an hour", () => {
    const limit = createLoginLimit();
    const waits_ms: number[] = [];
    let now_monotonicMs = 0;
    for (let k = 0; k < 14; k += 1) {
      now_monotonicMs += limit.wait_ms("10.0.0.7", now_monotonicMs);
      limit.failed("10.0.0.7", now_monotonicMs);
      waits_ms.push(limit.wait_ms("10.0.0.7", now_monotonicMs));
    }
    expect(waits_ms.slice(0, 6)).toEqual([0, 0, 2000, 4000, 8000, 16_000]);
    expect(waits_ms.at(-1)).toBe(15 * 60_000);
    limit.failed("10.0.0.7", now_monotonicMs + 2 * 3_600_000);
    expect(limit.wait_ms("10.0.0.7", now_monotonicMs + 2 * 3_600_000)).toBe(0);
  });

  it("from many addresses are few all together, and another address is free again after a minute", () => {
    const limit = createLoginLimit();
    for (let k = 0; k < 30; k += 1) limit.failed(`10.0.1.${k}`, 1000);
    expect(limit.wait_ms("10.0.9.9", 1000)).toBe(60_000);
    expect(limit.wait_ms("10.0.9.9", 61_001)).toBe(0);
  });
});

describe("a session", () => {
  const token = "a token of thirty-two characters";
  const cookieOf = (text: string | undefined): string => text!.split(";")[0]!;

  it("outlasts a restart, ends after a month, and with another token", () => {
    const cookie = cookieOf(createSessions(token, () => 0).logIn(token));
    expect(createSessions(token, () => 29 * 86_400_000).sessionOf(cookie)).toBeDefined();
    expect(createSessions(token, () => 31 * 86_400_000).sessionOf(cookie)).toBeUndefined();
    expect(createSessions(`${token}!`, () => 0).sessionOf(cookie)).toBeUndefined();
  });

  it("cannot be made longer, and its word is no other session's", () => {
    const sessions = createSessions(token, () => 0);
    const [one, other] = [cookieOf(sessions.logIn(token)), cookieOf(sessions.logIn(token))];
    const [id, ends, signature] = one.split(".");
    expect(sessions.sessionOf(`${id}.${Number(ends) + 1}.${signature}`)).toBeUndefined();
    const words = [one, other].map((cookie) => sessions.wordOf(sessions.sessionOf(cookie)!));
    expect(words[0]).not.toBe(words[1]);
    expect(sessions.isWordOf(sessions.sessionOf(one)!, words[1])).toBe(false);
  });
});
