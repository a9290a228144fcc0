import { describe, expect, it } from "vitest";
import { startPageBench } from "../../../support/page-bench.js";

const token = "a token of thirty-two characters";

describe("who the page answers", () => {
  it.each([
    { host: "tank.example", because: "a foreign name that was led to this address (DNS rebinding)" },
    { host: "localhost.tank.example", because: "a name that begins like ours" },
    { host: "192.168.1.20", because: "another address than that of the connection" },
    { host: "127.0.0.1@tank.example", because: "a user's name before a foreign one" },
    { host: "[fe80::1%eth0]", because: "no name as names are written" },
  ])("answers nothing to the host '$host': $because", async ({ host }) => {
    const page = await startPageBench();
    for (const path of ["/", "/api/site", "/api/changes", "/api/session"]) {
      expect((await page.get(path, { Host: host })).status).toBe(421);
    }
    expect((await page.post("/api/plan", {}, { Host: host })).status).toBe(421);
  });

  it.each(["localhost", "127.0.0.1:9999", "[::1]:80", "tank-room.home.arpa", "Tank-Room.home.arpa:80"])(
    "answers to its own name %s",
    async (host) => {
      const page = await startPageBench({ names: ["tank-room.home.arpa"] });
      expect((await page.get("/api/site", { Host: host })).status).toBe(200);
    },
  );

  it("lets nothing else run beside it, be framed or cached: on every answer", async () => {
    const page = await startPageBench();
    for (const path of ["/", "/api/site", "/no-such-page", "/api/no-such-thing"]) {
      const { headers } = await page.get(path);
      expect(headers["content-security-policy"], path).toContain("default-src 'none'");
      expect(headers["content-security-policy"], path).toContain("frame-ancestors 'none'");
      expect(headers["content-security-policy"], path).not.toContain("unsafe");
      expect(headers["x-content-type-options"], path).toBe("nosniff");
      expect(headers["referrer-policy"], path).toBe("no-referrer");
      expect(headers["access-control-allow-origin"], path).toBeUndefined();
    }
  });

  it.each([
    "/../../etc/passwd",
    "/..%2f..%2fetc%2fpasswd",
    "/%2e%2e/%2e%2e/etc/passwd",
    "/.bundled",
    "//etc/passwd",
    "/index.html/../../package.json",
    "/constructor",
    "/api/vessels/../../../etc/passwd/history",
    "/api/vessels/constructor/history",
    "/api/tanks/__proto__/history",
  ])("has no file behind the path %s", async (path) => {
    const page = await startPageBench();
    const answer = await page.get(path);
    expect(answer.status).toBe(404);
    expect(answer.text).not.toContain("root:");
  });

  it.each(["/api/tanks/loach/history", "/api/vessels/cellar/history"])(
    "works out a year of days at %s and no more, whatever is asked for: the next control pass waits for it",
    async (path) => {
      const page = await startPageBench();
      for (const query of ["?from=0", "?from=0&to=99999999999999", "?from=0&to=1700000000000"]) {
        const told = (await page.get(path + query)).json() as { from_epochMs: number; until_epochMs: number };
        expect(told.until_epochMs - told.from_epochMs, query).toBe(366 * 86_400_000);
      }
    },
  );

  it("can be read and written to, and nothing else", async () => {
    const page = await startPageBench();
    for (const method of ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"]) {
      const answer = await fetch(`${page.address}api/site`, { method }).catch(() => undefined);
      expect(answer?.status ?? 405, method).toBe(405);
    }
  });
});

describe("a write", () => {
  const body = { for_min: 5 };
  const path = "/api/valves/outlet/close-for";

  it.each([
    { headers: { Origin: "http://tank.example" }, because: "a page from elsewhere" },
    { headers: { Origin: "null" }, because: "a page without an origin, as in a frame" },
    { headers: { "Sec-Fetch-Site": "cross-site" }, because: "the browser says that it is from elsewhere" },
    { headers: { "Sec-Fetch-Site": "same-site" }, because: "a neighbour on the same machine" },
    { headers: { "Sec-Fetch-Site": "none" }, because: "an address that a person was given to type" },
    { headers: {}, because: "no word of this session" },
    { headers: { "X-Fizzward-Word": "guess" }, because: "a guessed word" },
  ])("is not carried out: $because", async ({ headers }) => {
    const page = await startPageBench();
    const { word } = (await page.get("/api/session")).json() as { word: string };
    const sent =
      "X-Fizzward-Word" in headers || Object.keys(headers).length === 0 ? {} : { "X-Fizzward-Word": word };
    expect((await page.post(path, body, { ...sent, ...headers })).status).toBe(403);
    expect(page.control.run.cycle.snapshot().overrides).toEqual([]);
  });

  it("is carried out from the page itself", async () => {
    const page = await startPageBench();
    const { word } = (await page.get("/api/session")).json() as { word: string };
    const answer = await page.post(path, body, {
      "X-Fizzward-Word": word,
      Origin: `http://127.0.0.1:${page.port}`,
      Host: `127.0.0.1:${page.port}`,
      "Sec-Fetch-Site": "same-origin",
    });
    expect(answer.json()).toMatchObject({ accepted: true });
    expect(page.control.run.cycle.snapshot().overrides).toMatchObject([
      { action: "closed", source: "remote" },
    ]);
  });

  it.each([
    { type: "text/plain", because: "what a form from elsewhere can send" },
    { type: "application/x-www-form-urlencoded", because: "a form" },
    { type: "", because: "no type" },
  ])("is JSON and nothing else: $because", async ({ type }) => {
    const page = await startPageBench();
    const { word } = (await page.get("/api/session")).json() as { word: string };
    const answer = await page.post(path, body, { "X-Fizzward-Word": word, "Content-Type": type });
    expect(answer.status).toBe(415);
  });

  it.each([
    { "Content-Length": "told", because: "by its length" },
    { "Transfer-Encoding": "chunked", because: "as it comes" },
  ])("is no longer than a form, $because", async (how) => {
    const page = await startPageBench();
    const { word } = (await page.get("/api/session")).json() as { word: string };
    const headers = "Transfer-Encoding" in how ? { "Transfer-Encoding": "chunked" } : {};
    const answer = await page.post(
      path,
      { note: "x".repeat(20_000) },
      { "X-Fizzward-Word": word, ...headers },
    );
    expect(answer.status).toBe(413);
  });
});

describe("a page that asks for a token", () => {
  it("tells nothing and does nothing before it is entered", async () => {
    const page = await startPageBench({ token });
    expect((await page.get("/api/session")).json()).toEqual({ needsToken: true, isLoggedIn: false });
    for (const path of [
      "/api/site",
      "/api/changes",
      "/api/journal",
      "/api/charges",
      "/api/vessels/cellar/history",
    ]) {
      expect((await page.get(path)).status, path).toBe(401);
    }
    expect((await page.post("/api/valves/outlet/close-for", { for_min: 5 })).status).toBe(401);
    expect((await page.get("/")).status).toBe(200);
  });

  it("takes the token for a cookie that no script reads and no other site sends", async () => {
    const page = await startPageBench({ token });
    const login = await page.post("/api/login", { token });
    const [cookie = ""] = login.headers["set-cookie"] ?? [];
    expect(cookie).toMatch(/; HttpOnly; SameSite=Strict/);
    expect(cookie).not.toContain(token);
    const Cookie = cookie.split(";")[0]!;
    expect((await page.get("/api/site", { Cookie })).status).toBe(200);
    const { word } = (await page.get("/api/session", { Cookie })).json() as { word: string };
    expect((await page.post("/api/plan", { days: 14 }, { Cookie })).status).toBe(403);
    expect((await page.post("/api/plan", { days: 14 }, { Cookie, "X-Fizzward-Word": word })).status).toBe(
      200,
    );
  });

  it.each([
    { cookie: "fizzward-session=a.99999999999999.b", because: "a made-up one" },
    { cookie: "fizzward-session=", because: "an empty one" },
    { cookie: "fizzward-session=a.1.b.c", because: "an ended one" },
  ])("takes no other cookie: $because", async ({ cookie }) => {
    const page = await startPageBench({ token });
    expect((await page.get("/api/site", { Cookie: cookie })).status).toBe(401);
  });

  it("lets nobody guess: after three wrong ones even the right one has to wait", async () => {
    const page = await startPageBench({ token });
    for (let k = 0; k < 3; k += 1) {
      expect((await page.post("/api/login", { token: `guess ${k}` })).status).toBe(401);
    }
    const answer = await page.post("/api/login", { token });
    expect(answer.status).toBe(429);
    expect(Number(answer.headers["retry-after"])).toBeGreaterThan(0);
  });

  it("takes no token from a page from elsewhere", async () => {
    const page = await startPageBench({ token });
    expect((await page.post("/api/login", { token }, { Origin: "http://tank.example" })).status).toBe(403);
  });
});
